"""Where and when a class could be held: what is asked, and how the findings are shown."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import DayField, SlugField, UidField, WallClockField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.problems import CauseSerializer
from scheduling.api.strict import Query
from scheduling.engine.openings import Change
from scheduling.models import Course
from scheduling.selectors import visible
from studios.models import Studio
from studios.selectors import studios_of
from studios.thermal import Phase

LONGEST_DAYS = 62
MOST_STUDIOS = 10


class Stretch(Query):
    """A course on any day of a stretch, at any of some studios."""

    longest_days = LONGEST_DAYS
    course = SlugField(among=visible.courses_of, what="course")
    studio = serializers.ListField(
        child=SlugField(among=studios_of, what="studio"),
        min_length=1,
        max_length=MOST_STUDIOS,
        help_text="Repeat it for several studios.",
    )
    instructor = UidField(
        among=visible.instructors_of, what="instructor", required=False, help_text="Left out: yourself."
    )
    first_day = DayField()
    last_day = DayField(help_text="Included.")
    over_by = WallClockField(
        required=False, help_text="The class is to be over by this time, by each studio's own clock."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        require_taught(attrs["course"], attrs["studio"])
        days = attrs["last_day"] - attrs["first_day"]
        if days < dt.timedelta(0):
            raise ValidationError(
                {"last_day": [ErrorDetail("Not before first_day.", code="end-after-start")]}
            )
        if days.days >= self.longest_days:
            message = f"Ask for at most {self.longest_days} days at once."
            raise ValidationError({"last_day": [ErrorDetail(message, code="too-long")]})
        return attrs


def require_taught(course: Course, studios: Iterable[Studio]) -> None:
    """A course is looked for only where it is taught."""
    taught = set(course.studios.all())
    if elsewhere := [studio.name for studio in studios if studio not in taught]:
        message = f"{course.name} is not taught at {', '.join(elsewhere)}."
        raise ValidationError({"studio": [ErrorDetail(message, code="not-taught-there")]})


class Wish(Stretch):
    """A course at a time of day, on any day of a stretch, at any of some studios."""

    time = WallClockField(help_text="By each studio's own clock.")


class PhaseLineSerializer(serializers.Serializer[Any]):
    """A phase of what would be held."""

    kind = serializers.ChoiceField(choices=[(phase.value, phase.value) for phase in Phase])
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    from_c = serializers.FloatField(allow_null=True)
    to_c = serializers.FloatField(allow_null=True)


class HeldLineSerializer(serializers.Serializer[Any]):
    """One piece of equipment that would be held."""

    equipment = EquipmentLineSerializer()
    place = serializers.IntegerField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    joins = serializers.UUIDField(
        source="joins.uid", allow_null=True, default=None, help_text="The firing it would join."
    )
    phases = PhaseLineSerializer(many=True)


class OptionSerializer(serializers.Serializer[Any]):
    """A start that works, with everything it would hold."""

    studio = serializers.SlugField(source="studio.slug")
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    held = HeldLineSerializer(many=True)
    notes = serializers.ListField(child=serializers.CharField())


class OpeningSerializer(serializers.Serializer[Any]):
    """One change that opens a refused start, and what that start would then hold."""

    change = serializers.ChoiceField(
        choices=[(change.value, change.value) for change in Change],
        help_text="Only another time or studio can be booked as it stands; the rest is for the course.",
    )
    sentence = serializers.CharField()
    option = OptionSerializer()


class RefusedSerializer(serializers.Serializer[Any]):
    """A start that does not work: why, what would open it, and the first one after it that works.

    A `starts_at` of null: no such time exists.
    """

    studio = serializers.SlugField(source="studio.slug")
    starts_at = serializers.DateTimeField(allow_null=True)
    reasons = CauseSerializer(many=True)
    openings = OpeningSerializer(many=True)
    nearest = OptionSerializer(allow_null=True)


class FindingsSerializer(serializers.Serializer[Any]):
    """What works, earliest first, and what does not."""

    options = OptionSerializer(many=True)
    refused = RefusedSerializer(many=True)
