"""Fitted logs: what is sent, and how they are shown."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from scheduling.api.fields import DayField, NumberField, TextField, TruthField, UidField
from scheduling.api.serializers.firings import EquipmentLineSerializer
from scheduling.api.serializers.places import ThermalRecordSerializer
from scheduling.api.strict import Strict
from scheduling.selectors import visible
from scheduling.selectors.calibrations import Foreseen, foreseen
from studios.calibration import Kind, Mark
from studios.models import Calibration, Ranges

LONGEST_LOG = 2_000_000


class MarkStretch(Strict):
    """A stretch of a log, in minutes from its first reading."""

    from_min = NumberField()
    to_min = NumberField()


class FitLog(Strict):
    """A log of a cooling with the heat off, a heating at full power, or both."""

    equipment = UidField(among=visible.equipment_of, what="equipment")
    log = TextField(max_length=LONGEST_LOG, help_text="CSV: time, temperature.")
    file_name = TextField(max_length=120)
    ambient_c = NumberField(required=False, help_text="During the log; else the record's, with its season.")
    unit = serializers.ChoiceField(
        choices=["C", "F"], required=False, help_text="Where the header does not say."
    )
    elapsed = serializers.ChoiceField(
        choices=["s", "min", "h"], required=False, help_text="Where the time is a bare number."
    )
    day_first = TruthField(required=False, help_text="Where a date can be read in two ways.")
    cooling = MarkStretch(required=False, help_text="Cooling with the heat off; else it is found.")
    full_power = MarkStretch(required=False, help_text="Heating at full power; else it is found.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """As the service takes it."""
        marks = [
            Mark(kind=kind, **attrs.pop(name))
            for kind, name in ((Kind.COOLING, "cooling"), (Kind.FULL_POWER, "full_power"))
            if name in attrs
        ]
        return {**attrs, "marks": marks}


class AcceptFit(Strict):
    """Which fit becomes the record, and from which day on."""

    ranges = serializers.ChoiceField(choices=Ranges.choices)
    valid_from = DayField()
    although_early = TruthField(
        default=False, help_text="Accepted although it says ‘open’ early, or could not be checked."
    )


class IntervalSerializer(serializers.Serializer[Any]):
    """Between these limits the true value lies with 99 % confidence."""

    name = serializers.CharField()
    low = serializers.FloatField()
    high = serializers.FloatField()


class JudgementSerializer(serializers.Serializer[Any]):
    """Minutes to the door temperature, or to the lowest that the log reaches: measured, and predicted."""

    door_c = serializers.FloatField()
    judged_c = serializers.FloatField()
    reaches_door = serializers.BooleanField()
    measured_min = serializers.FloatField()
    predicted_min = serializers.FloatField()
    error_min = serializers.FloatField(help_text="Negative: the fit says ‘open’ too early.")
    error_share = serializers.FloatField()
    says_open_early = serializers.BooleanField()
    sentence = serializers.CharField()


class FitSerializer(serializers.Serializer[Any]):
    """The numbers of a record as a log gives them."""

    tau_h = serializers.FloatField()
    tau_low_h = serializers.FloatField(allow_null=True)
    split_c = serializers.FloatField()
    ceiling_c = serializers.FloatField(allow_null=True, help_text="Null: the log had no full power.")
    intervals = serializers.SerializerMethodField()
    rms_k = serializers.FloatField(help_text="By how much it misses the readings.")
    judgement = JudgementSerializer(allow_null=True)
    warnings = serializers.ListField(
        child=serializers.CharField(), help_text="Accepted only with `although_early`."
    )

    @extend_schema_field(IntervalSerializer(many=True))
    def get_intervals(self, fit: dict[str, Any]) -> list[dict[str, Any]]:
        return [{"name": name, "low": low, "high": high} for name, (low, high) in fit["intervals"].items()]


class StretchSerializer(serializers.Serializer[Any]):
    """A stretch of the log that was used."""

    kind = serializers.ChoiceField(choices=[(kind.value, kind.value) for kind in Kind])
    from_min = serializers.FloatField()
    to_min = serializers.FloatField()
    found = serializers.BooleanField(help_text="False: as it was marked.")


class MovedSerializer(serializers.Serializer[Any]):
    """A booked firing that keeps its hours, and what a fit says of them."""

    firing = serializers.UUIDField(source="firing.uid")
    concerns = serializers.CharField()
    cool_at = serializers.DateTimeField()
    would_be_cool_at = serializers.DateTimeField(
        allow_null=True, help_text="Null: it could not be fired at all."
    )
    later_min = serializers.IntegerField(allow_null=True)
    why = serializers.CharField()


class ForeseenSerializer(serializers.Serializer[Any]):
    """What one of the fits would move from today on."""

    ranges = serializers.ChoiceField(choices=Ranges.choices)
    firings = MovedSerializer(many=True)
    why_not = serializers.CharField(help_text="Why its numbers make no record, where they make none.")


class CalibrationLineSerializer(serializers.ModelSerializer[Calibration]):
    """A fitted log, by name."""

    equipment = EquipmentLineSerializer(read_only=True)
    made_by = serializers.CharField(source="made_by.name", read_only=True)
    record = ThermalRecordSerializer(read_only=True, allow_null=True, help_text="What it became, if it did.")

    class Meta:
        model = Calibration
        fields = [
            "uid",
            "equipment",
            "file_name",
            "reading_count",
            "made_by",
            "made_at",
            "offered",
            "record",
        ]
        read_only_fields = fields


class CalibrationSerializer(CalibrationLineSerializer):
    """A fitted log: what was left out, the fits, and what each would move."""

    notices = serializers.ListField(child=serializers.CharField(), read_only=True)
    stretches = StretchSerializer(many=True, read_only=True)
    one_range = FitSerializer(read_only=True)
    two_range = FitSerializer(read_only=True, allow_null=True)
    would_move = serializers.SerializerMethodField()

    class Meta(CalibrationLineSerializer.Meta):
        fields = [
            *CalibrationLineSerializer.Meta.fields,
            "ambient_c",
            "door_c",
            "notices",
            "stretches",
            "one_range",
            "two_range",
            "would_move",
        ]
        read_only_fields = fields

    @extend_schema_field(ForeseenSerializer(many=True))
    def get_would_move(self, row: Calibration) -> list[dict[str, Any]]:
        found: tuple[Foreseen, ...] = foreseen(row)
        return [dict(each) for each in ForeseenSerializer(found, many=True).data]


class AcceptedSerializer(serializers.Serializer[Any]):
    """The record that a fit became, and the booked firings that keep their hours."""

    record = ThermalRecordSerializer()
    moved = MovedSerializer(many=True)
