"""Occupancies and firings as they are shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.serializers.people import WhoSerializer
from scheduling.models import Firing, Load, Occupancy, OccupancyPhase
from studios.models import Equipment, Person
from studios.thermal import Phase


class EquipmentLineSerializer(serializers.ModelSerializer[Equipment]):
    """A piece of equipment, by name."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)

    class Meta:
        model = Equipment
        fields = ["uid", "studio", "kind", "name"]
        read_only_fields = fields


class PhaseSerializer(serializers.ModelSerializer[OccupancyPhase]):
    """One piece of the curve: straight, or towards `toward_c` with time constant `tau_min`."""

    class Meta:
        model = OccupancyPhase
        fields = ["kind", "starts_at", "ends_at", "from_c", "to_c", "toward_c", "tau_min"]
        read_only_fields = fields


class OccupancySerializer(serializers.ModelSerializer[Occupancy]):
    """One piece of equipment, from when to when; the exclusive part refuses others at the same place."""

    equipment = EquipmentLineSerializer(read_only=True)
    booking = serializers.UUIDField(source="booking.uid", default=None, allow_null=True, read_only=True)
    session = serializers.UUIDField(
        source="booking.session.uid", default=None, allow_null=True, read_only=True
    )
    firing = serializers.UUIDField(source="firing.uid", default=None, allow_null=True, read_only=True)
    charge = serializers.UUIDField(source="charge.uid", default=None, allow_null=True, read_only=True)
    phases = PhaseSerializer(many=True, read_only=True)

    class Meta:
        model = Occupancy
        fields = [
            "equipment",
            "place",
            "booking",
            "session",
            "firing",
            "charge",
            "glass_kg",
            "starts_at",
            "ends_at",
            "exclusive_from",
            "exclusive_to",
            "phases",
        ]
        read_only_fields = fields


class SegmentSerializer(serializers.Serializer[Any]):
    """One segment of the program, as a kiln controller takes it."""

    rate_c_per_h = serializers.FloatField(allow_null=True, help_text="Empty: as fast as the equipment goes.")
    target_c = serializers.FloatField()
    hold_min = serializers.FloatField()
    phase = serializers.ChoiceField(choices=[(phase.value, phase.value) for phase in Phase])
    governed_by = serializers.CharField(help_text="The rule that set the rate.")
    hold_phase = serializers.CharField(default="")
    hold_governed_by = serializers.CharField(default="", help_text="The rule that set the hold.")
    keyed = serializers.BooleanField(
        default=True, help_text="False: not entered; the program has ended and the heat is off."
    )


class LagSerializer(serializers.Serializer[Any]):
    """Where the equipment cannot follow its program, and by how many minutes it is late."""

    departs_c = serializers.FloatField()
    target_c = serializers.FloatField()
    late_min = serializers.FloatField()
    phase = serializers.CharField()


class StressSerializer(serializers.Serializer[Any]):
    """One stress of one piece by the classical formula, against what is permitted.

    `likely_mpa` is what to reckon with: the classical figure is about 60 % of it.
    """

    glass = serializers.CharField()
    shape = serializers.CharField()
    thickness_mm = serializers.FloatField()
    what = serializers.CharField()
    classical_mpa = serializers.FloatField()
    likely_mpa = serializers.FloatField()
    permitted_mpa = serializers.FloatField()


class OwnerSerializer(WhoSerializer):
    """Whose pieces they are; who teaches a class is no secret."""

    def may_know(self, instance: Load, person: Person) -> bool:
        teaches = instance.session is not None and instance.session.instructor_id == person.pk
        return teaches or super().may_know(instance, person)


class LoadSerializer(serializers.ModelSerializer[Load]):
    """Pieces in a firing."""

    glass = serializers.SlugField(source="glass.slug", read_only=True)
    session = serializers.UUIDField(source="session.uid", default=None, allow_null=True, read_only=True)
    owner = OwnerSerializer(studio="firing.equipment.studio_id", read_only=True)

    class Meta:
        model = Load
        fields = [
            "session",
            "owner",
            "glass",
            "shape",
            "thickness_mm",
            "foot_mm",
            "pieces",
            "footprint_cm2",
            "in_from",
            "in_until",
        ]
        read_only_fields = fields


class FiringLineSerializer(serializers.ModelSerializer[Firing]):
    """One run of a kiln or annealer: its moments."""

    equipment = EquipmentLineSerializer(read_only=True)

    class Meta:
        model = Firing
        fields = [
            "uid",
            "equipment",
            "recipe",
            "hold_c",
            "at_hold_at",
            "last_in_at",
            "below_strain_at",
            "cool_at",
            "unload_at",
            "opened_at",
            "unloaded_at",
            "broken_at",
            "status",
            "sequence",
            "changed_at",
        ]
        read_only_fields = fields


class FiringHeldSerializer(FiringLineSerializer):
    """A firing with what its kiln does meanwhile; a cancelled one holds nothing."""

    occupancy = OccupancySerializer(read_only=True, allow_null=True, default=None)

    class Meta(FiringLineSerializer.Meta):
        fields = [*FiringLineSerializer.Meta.fields, "occupancy"]
        read_only_fields = fields


class FiringSerializer(FiringHeldSerializer):
    """A firing with its program, its loads and what its kiln does meanwhile."""

    segments = SegmentSerializer(many=True, read_only=True)
    lags = LagSerializer(many=True, read_only=True)
    stress = StressSerializer(many=True, read_only=True)
    loads = LoadSerializer(many=True, read_only=True)

    class Meta(FiringHeldSerializer.Meta):
        fields = [
            *FiringHeldSerializer.Meta.fields,
            "kept_stress_mpa",
            "energy_kwh",
            "segments",
            "lags",
            "stress",
            "loads",
        ]
        read_only_fields = fields
