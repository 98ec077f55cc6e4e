"""Moves and outages: what is sent, what a move would do, and what an outage breaks."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from scheduling.api.fields import InstantField, UidField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.options import OptionSerializer, RefusedSerializer
from scheduling.api.strict import Query, Strict
from scheduling.models import Seat
from scheduling.selectors import visible
from scheduling.selectors.broken import Broken, What
from scheduling.selectors.options import Option, Refused
from scheduling.services.rehearsing import Rehearsal


class MoveSession(Strict):
    """Where a session goes; its own start: it takes other equipment, where its own is out of use."""

    starts_at = InstantField(help_text="When the class begins then.")
    instructor = UidField(
        among=visible.instructors_of,
        what="instructor",
        required=False,
        help_text="Left out: whoever teaches it now.",
    )


class MoveQuery(MoveSession, Query):
    """A move to be looked at."""


class LosingSerializer(serializers.Serializer[tuple[Seat, str]]):
    """A seat whose person cannot come then."""

    seat = serializers.SerializerMethodField()
    why = serializers.SerializerMethodField()

    @extend_schema_field(serializers.UUIDField())
    def get_seat(self, losing: tuple[Seat, str]) -> str:
        """Its uid."""
        return str(losing[0].uid)

    def get_why(self, losing: tuple[Seat, str]) -> str:
        return losing[1]


class RehearsalSerializer(serializers.Serializer[Rehearsal]):
    """What a session would hold after a move, or why it cannot be moved so; one of the two is null."""

    option = serializers.SerializerMethodField()
    refused = serializers.SerializerMethodField()
    losing = LosingSerializer(many=True, help_text="Seats that would be lost, and why.")

    @extend_schema_field(OptionSerializer(allow_null=True))
    def get_option(self, found: Rehearsal) -> Any:
        return OptionSerializer(found.answer).data if isinstance(found.answer, Option) else None

    @extend_schema_field(RefusedSerializer(allow_null=True))
    def get_refused(self, found: Rehearsal) -> Any:
        return RefusedSerializer(found.answer).data if isinstance(found.answer, Refused) else None


class EndOutage(Strict):
    """When equipment is in use again."""

    ends_at = InstantField(required=False, help_text="Left out: now.")


class RepairSerializer(serializers.Serializer[Any]):
    """The nearest way out; a `starts_at` of null: there is none, and `reasons` say why."""

    sentence = serializers.CharField()
    starts_at = serializers.DateTimeField(allow_null=True)
    equipment = EquipmentLineSerializer(many=True, help_text="What it would hold then.")
    reasons = serializers.ListField(child=serializers.CharField())
    losing = serializers.IntegerField(help_text="How many seats would be lost, of people who are busy then.")


class BrokenSerializer(serializers.Serializer[Broken]):
    """A booking that an outage breaks, and its nearest repair; a firing for each class that shares it."""

    what = serializers.ChoiceField(choices=[(each.value, each.value) for each in What])
    uid = serializers.UUIDField()
    session = serializers.UUIDField(
        source="session.uid",
        default=None,
        allow_null=True,
        help_text="The session that is moved to repair it.",
    )
    title = serializers.CharField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    equipment = EquipmentLineSerializer()
    why = serializers.CharField()
    repair = RepairSerializer(allow_null=True)


class BrokenListSerializer(serializers.Serializer[Any]):
    """All that an outage breaks, in order of time."""

    broken = BrokenSerializer(many=True)
