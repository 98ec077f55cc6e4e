"""What really happened in a firing, and pieces on their way back: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.fields import InstantField, NumberField, TextField, UidField
from scheduling.api.serializers.changes import BrokenSerializer
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.people import WhoSerializer
from scheduling.api.strict import Strict
from scheduling.models import Actual, ActualKind, Collection, PickUp
from scheduling.selectors import visible
from scheduling.services.actuals import Recorded
from studios.models import Person


class RecordActual(Strict):
    """One thing that happened in a firing, and what the pyrometer said then."""

    firing = UidField(among=visible.firings_of, what="firing")
    kind = serializers.ChoiceField(choices=ActualKind.choices)
    at = InstantField()
    read_c = NumberField(required=False, allow_null=True, min_value=-273.15, max_value=3000, help_text="°C")
    note = TextField(max_length=200, required=False, allow_blank=True)


class ActualSerializer(serializers.ModelSerializer[Actual]):
    """What was recorded, by whom; a struck record counts no more."""

    firing = serializers.UUIDField(source="firing.uid", read_only=True)
    recorded_by = WhoSerializer(studio="firing.equipment.studio_id", read_only=True)

    class Meta:
        model = Actual
        fields = ["uid", "firing", "kind", "at", "read_c", "note", "recorded_by", "recorded_at", "struck_at"]
        read_only_fields = fields


class RecordedSerializer(serializers.Serializer[Recorded]):
    """A record, and what to mind now that it stands, or is struck."""

    actual = ActualSerializer(read_only=True)
    cautions = serializers.ListField(child=serializers.CharField(), read_only=True)


class ShelfLine(Strict):
    """Where the pieces of one class lie, or those of the load that is of no class."""

    session = serializers.UUIDField(allow_null=True)
    shelf = TextField(max_length=60)


class UnloadFiring(Strict):
    """A firing is taken out; each load gets its shelf. What broke off needs none."""

    firing = UidField(among=visible.firings_of, what="firing")
    at = InstantField(required=False)
    shelves = ShelfLine(many=True)


class PickUpSerializer(serializers.ModelSerializer[PickUp]):
    """Where the pieces of a load lie, and from when."""

    firing = serializers.UUIDField(source="load.firing.uid", read_only=True)
    session = serializers.UUIDField(source="load.session.uid", default=None, allow_null=True, read_only=True)
    equipment = EquipmentLineSerializer(source="load.firing.equipment", read_only=True)

    class Meta:
        model = PickUp
        fields = ["uid", "firing", "session", "equipment", "shelf", "ready_at"]
        read_only_fields = fields


class OwnerOfPieces(WhoSerializer):
    """Whose pieces they are."""

    def may_know(self, instance: Collection, person: Person) -> bool:
        return instance.person_id == person.pk or super().may_know(instance, person)


class CollectionSerializer(serializers.ModelSerializer[Collection]):
    """One person's pieces: where they lie, and whether they are collected."""

    pick_up = PickUpSerializer(read_only=True)
    person = OwnerOfPieces(studio="pick_up.load.firing.equipment.studio_id", read_only=True)

    class Meta:
        model = Collection
        fields = ["uid", "pick_up", "person", "collected_at"]
        read_only_fields = fields


class MarkCollected(Strict):
    """Whether the pieces were handed over."""

    collected = serializers.BooleanField()


class OverLimitSerializer(serializers.Serializer[Any]):
    """A supply that would have to give more than it can."""

    supply = serializers.UUIDField(source="supply.uid")
    amount = serializers.FloatField()
    limit = serializers.FloatField(source="supply.limit")
    starts_at = InstantField()
    ends_at = InstantField()


class OutageHotSerializer(serializers.Serializer[Any]):
    """Hours out of use that find the equipment hot."""

    reason = serializers.CharField(source="what")
    starts_at = InstantField()


class BreaksSerializer(serializers.Serializer[Any]):
    """All that a firing breaks since it runs longer."""

    bookings = BrokenSerializer(many=True)
    outages = OutageHotSerializer(many=True)
    supplies = OverLimitSerializer(many=True)
