"""Studios, equipment, supplies and glasses as they are shown."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from scheduling.api.fields import WallClockField
from studios.models import (
    BenchHours,
    Closure,
    Draw,
    Equipment,
    GlassType,
    OwnProcess,
    Pot,
    Season,
    StaffedHours,
    Studio,
    Supply,
    ThermalRecord,
)
from studios.selectors import roles_at


class StaffedHoursSerializer(serializers.ModelSerializer[StaffedHours]):
    """Weekly hours with somebody there; 0 is Monday, and an end of 00:00 is midnight."""

    opens = WallClockField(read_only=True)
    closes = WallClockField(read_only=True)

    class Meta:
        model = StaffedHours
        fields = ["weekday", "opens", "closes", "may_light", "may_load", "may_unload", "may_charge"]
        read_only_fields = fields


class BenchHoursSerializer(serializers.ModelSerializer[BenchHours]):
    """Weekly hours of open bench time; 0 is Monday, and an end of 00:00 is midnight."""

    opens = WallClockField(read_only=True)
    closes = WallClockField(read_only=True)

    class Meta:
        model = BenchHours
        fields = ["weekday", "opens", "closes"]
        read_only_fields = fields


class ClosureSerializer(serializers.ModelSerializer[Closure]):
    """Whole days on which nobody is there."""

    class Meta:
        model = Closure
        fields = ["first_day", "last_day", "reason"]
        read_only_fields = fields


class SeasonSerializer(serializers.ModelSerializer[Season]):
    """From a day of every year on its rooms are warmer or colder than the records say."""

    class Meta:
        model = Season
        fields = ["name", "month", "day", "warmer_k"]
        read_only_fields = fields


class OwnProcessSerializer(serializers.ModelSerializer[OwnProcess]):
    """A studio's own temperatures for a recipe."""

    recipe = serializers.CharField(read_only=True)

    class Meta:
        model = OwnProcess
        fields = ["recipe", "process_c", "hold_min", "squeeze_c", "squeeze_min"]
        read_only_fields = fields


class StudioSerializer(serializers.ModelSerializer[Studio]):
    """A studio with its hours, its firing rules and the reader's roles there."""

    staffed_hours = StaffedHoursSerializer(many=True, read_only=True)
    bench_hours = BenchHoursSerializer(many=True, read_only=True)
    closures = ClosureSerializer(many=True, read_only=True)
    seasons = SeasonSerializer(many=True, read_only=True)
    own_processes = OwnProcessSerializer(many=True, read_only=True)
    my_roles = serializers.SerializerMethodField()

    class Meta:
        model = Studio
        fields = [
            "slug",
            "name",
            "time_zone",
            "address",
            "temperature_unit",
            "length_unit",
            "notice_min",
            "latest_end",
            "electric_unattended",
            "hold_gap_min",
            "kept_stress_mpa",
            "passing_stress_mpa",
            "soak_floor_min_per_mm",
            "sharing_tolerance_k",
            "heating_6_mm_c_per_h",
            "heating_12_mm_c_per_h",
            "cooling_6_mm_c_per_h",
            "cooling_12_mm_c_per_h",
            "seasons",
            "own_processes",
            "currency",
            "price_per_kwh",
            "gas_price_per_kwh",
            "holiday_country",
            "holiday_region",
            "staffed_hours",
            "bench_hours",
            "closures",
            "my_roles",
        ]
        read_only_fields = fields

    def get_my_roles(self, studio: Studio) -> list[str]:
        return sorted(roles_at(self.context["request"].user, studio))


class ThermalRecordSerializer(serializers.ModelSerializer[ThermalRecord]):
    """How fast a body loses heat, and where full power holds it."""

    class Meta:
        model = ThermalRecord
        fields = [
            "valid_from",
            "tau_h",
            "tau_low_h",
            "split_c",
            "ceiling_c",
            "power_kw",
            "ramp_limit_c_per_h",
            "ambient_c",
            "door_c",
            "source",
        ]
        read_only_fields = fields


class DrawSerializer(serializers.ModelSerializer[Draw]):
    """What is drawn from a supply, in its unit."""

    supply = serializers.UUIDField(source="supply.uid", read_only=True)
    name = serializers.CharField(source="supply.name", read_only=True)
    unit = serializers.CharField(source="supply.unit", read_only=True)

    class Meta:
        model = Draw
        fields = ["supply", "name", "amount", "unit"]
        read_only_fields = fields


class PotSerializer(serializers.ModelSerializer[Pot]):
    """The glass in a furnace, and how it is charged."""

    class Meta:
        model = Pot
        fields = [
            "capacity_kg",
            "floor_kg",
            "turn_up_min",
            "charges",
            "charge_min",
            "gap_min",
            "fining_min",
            "coming_down_min",
            "charging_c",
        ]
        read_only_fields = fields


class EquipmentSerializer(serializers.ModelSerializer[Equipment]):
    """One bookable thing, with the thermal record in force today."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)
    station = serializers.UUIDField(
        source="station.uid",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="The glory hole that this bench or pipe warmer is held with.",
    )
    room = serializers.UUIDField(
        source="room.uid",
        default=None,
        allow_null=True,
        read_only=True,
        help_text="The supply of people that its room is, where that takes only so many.",
    )
    thermal_record = serializers.SerializerMethodField()
    draws = DrawSerializer(many=True, read_only=True)
    pot = PotSerializer(default=None, allow_null=True, read_only=True)

    class Meta:
        model = Equipment
        fields = [
            "uid",
            "studio",
            "kind",
            "name",
            "number",
            "places",
            "station",
            "room",
            "gas_fired",
            "working_c",
            "touch_c",
            "prepare_min",
            "clear_min",
            "capacity_cm2",
            "controller_segments",
            "longest_wait_min",
            "lighting_kwh",
            "active",
            "thermal_record",
            "draws",
            "pot",
        ]
        read_only_fields = fields

    @extend_schema_field(ThermalRecordSerializer(allow_null=True))
    def get_thermal_record(self, equipment: Equipment) -> dict[str, Any] | None:
        record = equipment.record_on(timezone.localdate(timezone=equipment.studio.zone))
        return dict(ThermalRecordSerializer(record).data) if record else None


class SupplySerializer(serializers.ModelSerializer[Supply]):
    """A shared supply with its greatest rate, and its content where it comes in cylinders or tanks."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)
    unit = serializers.CharField(read_only=True)
    content_unit = serializers.CharField(read_only=True)

    class Meta:
        model = Supply
        fields = [
            "uid",
            "studio",
            "kind",
            "name",
            "limit",
            "unit",
            "content",
            "content_unit",
            "floor",
            "change_over",
        ]
        read_only_fields = fields


class GlassSerializer(serializers.ModelSerializer[GlassType]):
    """A glass with its points and properties, and where they come from."""

    class Meta:
        model = GlassType
        fields = [
            "slug",
            "name",
            "expansion_1e7_per_k",
            "annealing_c",
            "strain_c",
            "softening_c",
            "working_c",
            "youngs_gpa",
            "poisson",
            "conductivity_w_per_m_k",
            "density_kg_per_m3",
            "heat_capacity_j_per_kg_k",
            "source",
        ]
        read_only_fields = fields
