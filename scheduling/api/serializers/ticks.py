"""The duties of a day and their ticks: what is sent, and how they are shown."""

from __future__ import annotations

import datetime as dt
from typing import Any

from rest_framework import serializers

from scheduling.api.fields import DayField, InstantField, SlugField, TextField, TruthField
from scheduling.api.serializers.actuals import ActualSerializer
from scheduling.api.serializers.people import WhoSerializer
from scheduling.api.strict import Strict
from scheduling.engine.clock import moment
from scheduling.models import Tick
from scheduling.selectors.duties import Does
from scheduling.selectors.round import Line
from scheduling.services.ticks import Ticked
from studios.selectors import studios_of

MOST_PARTS = 40


class TickSerializer(serializers.ModelSerializer[Tick]):
    """Somebody has seen to a duty at one piece of equipment."""

    studio = serializers.SlugRelatedField(slug_field="slug", read_only=True)  # type: ignore[var-annotated]
    ticked_by = WhoSerializer(read_only=True)
    taken_back_by = WhoSerializer(read_only=True)
    actual = serializers.UUIDField(
        source="actual.uid", default=None, allow_null=True, read_only=True, help_text="Recorded with it."
    )

    class Meta:
        model = Tick
        fields = [
            "uid",
            "studio",
            "duty",
            "said",
            "due_at",
            "ticked_by",
            "ticked_at",
            "actual",
            "taken_back_by",
            "taken_back_at",
        ]
        read_only_fields = fields


class PartSerializer(serializers.Serializer[Any]):
    """A duty at one thing: its key, by which it is ticked, and the name of the thing."""

    key = serializers.CharField(read_only=True)
    name = serializers.CharField(read_only=True)


class DutySerializer(serializers.Serializer[Line]):
    """Something to be done on a day, when, for what, and what is known of it."""

    does = serializers.ChoiceField(choices=[(does.value, does.value) for does in Does], source="duty.does")
    parts = PartSerializer(many=True, source="duty.parts")
    why = serializers.CharField(source="duty.why")
    starts_at = InstantField(source="duty.at")
    ends_at = serializers.SerializerMethodField(help_text="As starts_at, where nobody need be there longer.")
    done = serializers.BooleanField()
    records = serializers.CharField(
        allow_null=True, help_text="What a tick with `record` records of it now; null: nothing."
    )
    ticks = TickSerializer(many=True)

    def get_ends_at(self, line: Line) -> dt.datetime:
        return moment(line.duty.span[1])


class SetTick(Strict):
    """Duties of one day that somebody has seen to."""

    studio = SlugField(among=studios_of, what="studio")
    day = DayField(help_text="On which they were due, by the studio's calendar.")
    # DRF's own attribute of this name is that of a list; these are a serializer's children.
    duties = serializers.ListField(
        child=TextField(max_length=80), min_length=1, max_length=MOST_PARTS, help_text="Keys of their parts."
    )
    record = TruthField(
        default=False, help_text="Record what really happened in the same step: lit, loaded, opened, full."
    )
    at = InstantField(required=False, help_text="When it happened, if not now.")


class TickedSerializer(serializers.Serializer[Ticked]):
    """The ticks that were set, what was recorded with them, and what to mind now."""

    ticks = TickSerializer(many=True)
    recorded = ActualSerializer(many=True)
    cautions = serializers.ListField(child=serializers.CharField())
