"""The best starts of a course, and the times of a weekly class: what is asked, and what is found."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

from scheduling.api.fields import CountField, DayField, SlugField, UidField, WallClockField
from scheduling.api.serializers.options import OptionSerializer, RefusedSerializer, Stretch, require_taught
from scheduling.api.strict import Query
from scheduling.selectors import visible
from scheduling.selectors.offers import MOST_DAYS, MOST_WEEKS, ORDERS
from studios.selectors import studios_of

MOST_OFFERS = 50
MOST_SKIPPED = 60
ORDER_HELP = "What the best start is the least of. " + "; ".join(
    f"`{word}`: {measure.value}" for word, measure in ORDERS.items()
)


class BestStartsQuery(Stretch):
    """A course on any day of a stretch, at any of some studios, by what counts."""

    longest_days = MOST_DAYS
    order = serializers.ChoiceField(choices=list(ORDERS), default="earliest", help_text=ORDER_HELP)
    time = WallClockField(
        required=False, help_text="The wished time by each studio's own clock; `nearest` needs it."
    )
    most = CountField(required=False, min_value=1, max_value=MOST_OFFERS, default=20, help_text="How many.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["order"] == "nearest" and "time" not in attrs:
            raise ValidationError({"time": [ErrorDetail("Say which time is wished.", code="required")]})
        return super().validate(attrs)


class OfferSerializer(serializers.Serializer[Any]):
    """One of the best starts, and how it measures by the order asked."""

    option = OptionSerializer()
    measured = serializers.FloatField(help_text="Minutes or kWh; the less, the better. 0 for `earliest`.")
    words = serializers.CharField(allow_blank=True, help_text="The same in words; empty for `earliest`.")


class BestStartsSerializer(serializers.Serializer[Any]):
    """The best starts, the best first: one for each day and studio."""

    offers = OfferSerializer(many=True)


class WeeklyQuery(Query):
    """A course every week from a day on, so many times, at one studio."""

    course = SlugField(among=visible.courses_of, what="course")
    studio = SlugField(among=studios_of, what="studio")
    instructor = UidField(
        among=visible.instructors_of, what="instructor", required=False, help_text="Left out: yourself."
    )
    first_day = DayField(help_text="Of the first meeting, unless it is skipped.")
    weeks = CountField(min_value=1, max_value=MOST_WEEKS, help_text="How many meetings.")
    skip = serializers.ListField(
        child=DayField(),
        required=False,
        max_length=MOST_SKIPPED,
        help_text="A day to leave out; repeat it for several. Each adds a week at the end.",
    )
    over_by = WallClockField(required=False, help_text="Each meeting is to be over by this time.")
    time = WallClockField(required=False, help_text="With it, `meetings` and `refused` are worked out.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        require_taught(attrs["course"], [attrs["studio"]])
        return attrs


class TimesSerializer(serializers.Serializer[Any]):
    """Starts from the first to the last minute, both included, by the studio's clock."""

    first = WallClockField()
    last = WallClockField()


class SpoiltSerializer(TimesSerializer):
    """Starts that work in all weeks but these."""

    spoilt_by = serializers.ListField(child=DayField())


class SkipSerializer(serializers.Serializer[Any]):
    """A day that might be left out, and why."""

    day = DayField()
    reason = serializers.CharField()


class WeeklyTimesSerializer(serializers.Serializer[Any]):
    """When a class can be held every week, and what each meeting holds at the time asked."""

    studio = serializers.SlugField(source="studio.slug")
    days = serializers.ListField(child=DayField(), help_text="To be booked as they stand.")
    times = TimesSerializer(many=True, help_text="These work every week.")
    spoilt = SpoiltSerializer(many=True, help_text="These would, but for one week or two.")
    meetings = OptionSerializer(many=True, help_text="What each meeting would hold; empty without a time.")
    refused = RefusedSerializer(many=True, help_text="The weeks that cannot have the time, and why.")
    proposed_skips = SkipSerializer(
        many=True, help_text="Public holidays and closed days among the meetings, skipped or not."
    )
