"""Equipment: of each kind what it has, how it heats and cools, and what it draws on which supply."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from scheduling.services.set_up.equipment import MOST_TORCHES
from scheduling.web.numbers import NumberField, WholeField
from scheduling.web.setup_forms.base import Part, SetUpForm, SetUpQuestion, Source
from studios.models import Equipment, EquipmentKind, Pot, Studio, Supply, SupplyKind, ThermalRecord

COMMON = ("name", "number", "room")
OWN: Mapping[str, Sequence[str]] = {
    EquipmentKind.FURNACE: ("places", "working_c", "gas_fired"),
    EquipmentKind.GLORY_HOLE: ("working_c", "gas_fired", "lighting_kwh", "touch_c"),
    EquipmentKind.BENCH: ("station",),
    EquipmentKind.PIPE_WARMER: ("station", "working_c", "gas_fired", "lighting_kwh", "touch_c"),
    EquipmentKind.TORCH: ("prepare_min", "clear_min"),
    EquipmentKind.KILN: (
        *("capacity_cm2", "gas_fired", "prepare_min", "clear_min"),
        *("controller_segments", "longest_wait_min"),
        *("shelf_length_mm", "shelf_width_mm", "shelf_levels", "shelf_margin_mm", "piece_spacing_mm"),
        *("hour_price", "shelf_wash_price"),
    ),
    EquipmentKind.ANNEALER: ("capacity_cm2", "gas_fired", "clear_min", "controller_segments"),
    EquipmentKind.COLD_STATION: (),
}
# What is asked without being able to be left empty where the column could be.
NEEDED = ("working_c",)
# What may be left empty where the column may not: then it is as usual.
AS_BEGUN = Equipment()
AS_USUAL = ("shelf_levels", "shelf_margin_mm", "piece_spacing_mm")
PREPARES: Mapping[str, tuple[Any, Any]] = {
    EquipmentKind.TORCH: (_("Purge and check (minutes)"), _("Cooling at the torch (minutes)")),
    EquipmentKind.KILN: (_("Loading (minutes)"), _("Unloading (minutes)")),
    EquipmentKind.ANNEALER: ("", _("Unloading (minutes)")),
}
HEATED = frozenset({"furnace", "glory-hole", "pipe-warmer", "kiln", "annealer"})
# Sizes that such equipment has: estimates to begin with, common practice, no source.
USUAL: Mapping[str, Mapping[str, float]] = {
    EquipmentKind.FURNACE: {"tau_h": 18, "ceiling_c": 1400, "ambient_c": 32},
    EquipmentKind.GLORY_HOLE: {"tau_h": 0.5, "ceiling_c": 1450, "ambient_c": 32},
    EquipmentKind.PIPE_WARMER: {"tau_h": 0.25, "ceiling_c": 800, "ambient_c": 32},
    EquipmentKind.KILN: {"tau_h": 2.8, "ceiling_c": 1200, "ambient_c": 24},
    EquipmentKind.ANNEALER: {"tau_h": 4, "ceiling_c": 1050, "ambient_c": 30},
}
USUAL_OF_ITS_OWN: Mapping[str, Mapping[str, Any]] = {
    EquipmentKind.FURNACE: {"working_c": 1150, "gas_fired": True},
    EquipmentKind.GLORY_HOLE: {"working_c": 1150, "gas_fired": True},
    EquipmentKind.PIPE_WARMER: {"working_c": 550},
    EquipmentKind.TORCH: {"prepare_min": 5, "clear_min": 10},
    EquipmentKind.KILN: {"prepare_min": 30, "clear_min": 20, "capacity_cm2": None},
    EquipmentKind.ANNEALER: {"clear_min": 20, "capacity_cm2": None},
}


class EquipmentForm(SetUpForm):
    """One piece of equipment; only what its kind has is asked."""

    measures = {
        "working_c": "degrees",
        "touch_c": "degrees",
        "capacity_cm2": "area",
        "shelf_length_mm": "length",
        "shelf_width_mm": "length",
        "shelf_margin_mm": "length",
        "piece_spacing_mm": "length",
    }
    parts = (
        Part(
            title=_("One of its shelves"),
            note=_(
                "With its length and its width pieces are laid out on it one by one, and kiln jobs may be "
                "planned for it. All its shelves are alike."
            ),
            names=[
                "shelf_length_mm",
                "shelf_width_mm",
                "shelf_levels",
                "shelf_margin_mm",
                "piece_spacing_mm",
            ],
        ),
        Part(
            title=_("What it costs"),
            note=_("Split over the pieces of a firing by their area, with the energy that it takes."),
            names=["hour_price", "shelf_wash_price"],
        ),
    )

    class Meta:
        model = Equipment
        fields = [*COMMON, *dict.fromkeys(name for names in OWN.values() for name in names)]
        labels = {
            "name": _("Name"),
            "number": _("Number"),
            "room": _("Room"),
            "places": _("How many gather at once"),
            "working_c": _("Working temperature"),
            "touch_c": _("May be touched below"),
            "gas_fired": _("Heated by gas"),
            "lighting_kwh": _("What lighting it costs (kWh)"),
            "station": _("Belongs to the glory hole"),
            "capacity_cm2": _("Room on its shelves"),
            "controller_segments": _("Segments that its controller takes"),
            "longest_wait_min": _("Waits, loaded, before its program starts, for at most (minutes)"),
            "shelf_length_mm": _("Length"),
            "shelf_width_mm": _("Width"),
            "shelf_levels": _("Shelves one above the other, on posts"),
            "shelf_margin_mm": _("Free at its edge"),
            "piece_spacing_mm": _("Free between two pieces"),
            "hour_price": _("An hour, from loading to unloading"),
            "shelf_wash_price": _("Wash and material for one shelf"),
        }
        help_texts = {
            "name": _("As people call it; each name once in a studio."),
            "number": _("Its order on the sheet."),
            "room": _("Where it stands, if that takes only so many people at once."),
            "gas_fired": _("Gas is attended from lighting to off."),
            "lighting_kwh": _(
                "Purge, wear and somebody’s minutes, told as energy; between two classes it is kept hot "
                "where that takes less. Common practice, no source: 8 to 12."
            ),
            "station": _("It is held together with it."),
            "controller_segments": _(
                "Empty: any number. With few, stages are merged, never faster than permitted."
            ),
            "longest_wait_min": _(
                "Where its controller can start by itself, and its supply has no room yet. 0: never."
            ),
            "shelf_width_mm": _("From the door to the back."),
            "shelf_levels": _("Where the program allows it; what sinks into moulds lies on one."),
            "shelf_margin_mm": _("Common practice, no source."),
            "piece_spacing_mm": _(
                "So that glass that spreads does not reach its neighbour. Common practice, no source."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kind = EquipmentKind(self.instance.kind)
        asked = (*COMMON, *OWN[kind])
        for name in {name for names in OWN.values() for name in names} - set(asked):
            del self.fields[name]
        self.order_fields(asked)
        for name, label in zip(("prepare_min", "clear_min"), PREPARES.get(kind, ("", "")), strict=True):
            if name in self.fields:
                self.fields[name].label = label
        for name in (*NEEDED, *AS_USUAL):
            if name in self.fields:
                self.fields[name].required = name in NEEDED
        self._offer("room", self.studio.supplies.filter(kind=SupplyKind.PEOPLE))
        self._offer("station", self.studio.equipment.filter(kind=EquipmentKind.GLORY_HOLE, active=True))

    def clean(self) -> dict[str, Any]:
        """What is left empty is as usual."""
        given = super().clean()
        for name in AS_USUAL:
            if name in self.fields and given.get(name) is None and name not in self.errors:
                given[name] = getattr(AS_BEGUN, name)
        return given

    def _offer(self, name: str, rows: QuerySet[Any]) -> None:
        """A choice is asked only where there is one."""
        field = self.fields.get(name)
        if isinstance(field, forms.ModelChoiceField):
            field.queryset, field.empty_label = rows, _("none")
            if not rows.exists():
                del self.fields[name]


class TorchForm(EquipmentForm):
    """Torches of one kind, several at a time."""

    last_number = WholeField(
        label=_("To number"),
        help_text=_("Each becomes a place of its own; with one number, one torch."),
        validators=[MinValueValidator(1)],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["number"].label = _("From number")
        self.fields["number"].help_text = _("The number that stands at the torch.")
        self.order_fields(["name", "number", "last_number"])

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        first, last = given.get("number"), given.get("last_number")
        if first is not None and last is not None and not first <= last < first + MOST_TORCHES:
            message = _("Not before the first, and at most %(most)s at once.") % {"most": MOST_TORCHES}
            self.add_error("last_number", message)
        return given


class DrawsForm(SetUpQuestion):
    """The full connected draw on each supply of the studio."""

    def __init__(self, *args: Any, studio: Studio, equipment: Equipment, **kwargs: Any) -> None:
        drawn = dict(equipment.draws.values_list("supply", "amount")) if equipment.pk else {}
        super().__init__(*args, studio=studio, **kwargs)
        self.supplies = list(studio.supplies.exclude(kind=SupplyKind.PEOPLE))
        for supply in self.supplies:
            self.fields[f"draw_{supply.pk}"] = NumberField(
                label=f"{supply.name} ({supply.unit})",
                required=False,
                initial=drawn.get(supply.pk),
                validators=[MinValueValidator(0.0), MaxValueValidator(1e6)],
            )

    def draws(self) -> dict[Supply, float]:
        """What it draws on each; nothing said is nothing drawn."""
        given = self.cleaned_data
        return {supply: given[f"draw_{supply.pk}"] or 0.0 for supply in self.supplies}

    parts = ()


class RecordForm(SetUpForm):
    """How fast it loses heat, and where full power would hold it."""

    measures = {
        "ceiling_c": "degrees",
        "split_c": "degrees",
        "ambient_c": "degrees",
        "door_c": "degrees",
        "ramp_limit_c_per_h": "rate",
    }

    class Meta:
        model = ThermalRecord
        fields = [
            *["valid_from", "tau_h", "ceiling_c", "power_kw", "ambient_c", "source"],
            *["tau_low_h", "split_c", "ramp_limit_c_per_h", "door_c"],
        ]
        labels = {
            "valid_from": _("From"),
            "tau_h": _("Time constant τ (hours)"),
            "ceiling_c": _("Ceiling T∞"),
            "power_kw": _("Full power (kW)"),
            "ambient_c": _("The room around it"),
            "source": _("Where the numbers come from"),
            "tau_low_h": _("τ below the split (hours)"),
            "split_c": _("Split"),
            "ramp_limit_c_per_h": _("Heats no faster than"),
            "door_c": _("Its door may be opened at"),
        }
        help_texts = {
            "tau_h": _(
                "In this time it loses 63 % of its heat with the power off. Brick: hours, fibre: about one."
            ),
            "ceiling_c": _("Where full power would hold it for good."),
            "power_kw": _("As on its plate; of a gas burner, the heat input."),
            "tau_low_h": _("A brick kiln cools slower at the end. Empty: one τ throughout."),
            "ramp_limit_c_per_h": _("Empty: as its power allows."),
            "door_c": _("Empty: 50 °C or 15 K above the room, the higher; never above 93 °C (200 °F)."),
        }
        widgets = {"source": Source}

    parts = (
        Part(
            title=_("How it heats and cools"),
            note=_(
                "Estimates will do to begin with. Fit a log of a night to it soon: the hours of a firing are "
                "mostly its cooling, and an estimate may be an hour off. Before a door is opened, read the "
                "temperature."
            ),
            names=["valid_from", "tau_h", "ceiling_c", "power_kw", "ambient_c", "source"],
        ),
        Part(
            title=_("More of its record"),
            names=["tau_low_h", "split_c", "ramp_limit_c_per_h", "door_c"],
            aside=True,
        ),
    )


class PotForm(SetUpForm):
    """The pot of a furnace, and how it is charged."""

    measures = {"charging_c": "degrees"}

    class Meta:
        model = Pot
        fields = [
            *["capacity_kg", "floor_kg", "charges", "charge_min", "gap_min"],
            *["turn_up_min", "charging_c", "fining_min", "coming_down_min"],
        ]
        labels = {
            "capacity_kg": _("Holds (kg)"),
            "floor_kg": _("Never below (kg)"),
            "charges": _("Charged so many times"),
            "charge_min": _("Each charge (minutes)"),
            "gap_min": _("Between two charges (minutes)"),
            "turn_up_min": _("Turning up (minutes)"),
            "charging_c": _("Charged at"),
            "fining_min": _("Fining (minutes)"),
            "coming_down_min": _("Coming down (minutes)"),
        }
        help_texts = {
            "charge_min": _("Somebody who may charge is there for each."),
            "gap_min": _("It melts meanwhile."),
        }

    parts = (
        Part(title=_("The pot"), names=["capacity_kg", "floor_kg"]),
        Part(
            title=_("A charge"),
            note=_("Filled in with the usual lengths, about 24 hours together: common practice, no source."),
            names=[
                *["charges", "charge_min", "gap_min", "turn_up_min"],
                *["charging_c", "fining_min", "coming_down_min"],
            ],
        ),
    )
