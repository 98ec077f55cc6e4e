"""Refills of supplies, charges of furnaces and where a charge fits: what is sent, and how it is shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.fields import InstantField, NumberField, UidField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.strict import Strict
from scheduling.models import Charge, Refill
from scheduling.selectors import visible
from scheduling.selectors.stores import ChargeProposal, RunsDry
from scheduling.services.charges import Measured


class RecordRefill(Strict):
    """A delivery, or a change-over to full cylinders: from `at` on the supply has this content."""

    supply = UidField(among=visible.supplies_of, what="supply")
    at = InstantField()
    content_after = NumberField(required=False, help_text="In L or kWh; left out: it is full.")
    planned = UidField(
        among=visible.refills_of,
        what="refill",
        required=False,
        help_text="The planned refill that this was, or that is put off to this time.",
    )


class RefillSerializer(serializers.ModelSerializer[Refill]):
    """From when on a supply has which content."""

    supply = serializers.UUIDField(source="supply.uid", read_only=True)
    name = serializers.CharField(source="supply.name", read_only=True)
    unit = serializers.CharField(source="supply.content_unit", read_only=True)
    booking = serializers.UUIDField(
        source="booking.uid",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="The booking that brought this change-over.",
    )

    class Meta:
        model = Refill
        fields = ["uid", "supply", "name", "at", "content_after", "unit", "status", "booking", "recorded_at"]
        read_only_fields = fields


class RunsDrySerializer(serializers.Serializer[RunsDry]):
    """A class, bench time or a firing that is booked and finds too little left."""

    what = serializers.CharField()
    starts_at = InstantField()
    ends_at = InstantField()


class StruckSerializer(serializers.Serializer[Any]):
    """What runs dry by now; what is booked stands all the same."""

    runs_dry = RunsDrySerializer(many=True)


class MeasurePot(Strict):
    """The glass in a pot, as somebody measured it at a minute."""

    furnace = UidField(among=visible.furnaces_of, what="furnace")
    at = InstantField(help_text="Not in the future.")
    level_kg = NumberField()


class PotLevelSerializer(serializers.ModelSerializer[Charge]):
    """A level of glass as measured; it counts from that minute until the furnace is charged."""

    furnace = EquipmentLineSerializer(read_only=True)
    at = InstantField(source="ends_at", read_only=True)
    level_kg = serializers.FloatField(source="level_after_kg", read_only=True)

    class Meta:
        model = Charge
        fields = ["furnace", "at", "level_kg"]
        read_only_fields = fields


class MeasuredSerializer(serializers.Serializer[Measured]):
    """The level as entered, and what runs dry by it; what is booked stands all the same."""

    furnace = EquipmentLineSerializer(read_only=True)
    at = InstantField()
    level_kg = serializers.FloatField()
    runs_dry = RunsDrySerializer(many=True)


class BookCharge(Strict):
    """A whole charge of a furnace; its length is in the record of the pot."""

    furnace = UidField(among=visible.furnaces_of, what="furnace")
    starts_at = InstantField()
    level_after_kg = NumberField(required=False, help_text="Left out: the pot is full after it.")


class ChargeSerializer(serializers.ModelSerializer[Charge]):
    """A charge takes every place of its furnace from turn-up to the end of coming down."""

    furnace = EquipmentLineSerializer(read_only=True)

    class Meta:
        model = Charge
        fields = [
            "uid",
            "furnace",
            "starts_at",
            "ends_at",
            "level_after_kg",
            "status",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields


class ChargeProposalSerializer(serializers.Serializer[ChargeProposal]):
    """What the pot holds and will hold, and the earliest whole charge that fits; else the reasons."""

    furnace = EquipmentLineSerializer(read_only=True)
    level_kg = serializers.FloatField(allow_null=True, help_text="Now; null before the first charge.")
    level_before_next_charge_kg = serializers.FloatField(
        allow_null=True, help_text="When all that is booked until then has been drawn."
    )
    floor_kg = serializers.FloatField()
    starts_at = InstantField(allow_null=True)
    ends_at = InstantField(allow_null=True)
    reasons: Any = serializers.ListField(child=serializers.CharField())
