"""What is said of a studio as a whole, each part on a page of its own."""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping
from itertools import groupby
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from scheduling.web.setup_forms.base import Part, SetUpForm, Words
from studios.models import Studio
from studios.public_holidays import countries

REGIONS = ("Africa", "America", "Antarctica", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")


def _zones() -> list[tuple[str, Any]]:
    """Time zones under the part of the world they lie in."""
    names = sorted(name for name in zoneinfo.available_timezones() if name.split("/")[0] in REGIONS)
    parts = groupby(names, key=lambda name: name.split("/")[0])
    return [
        ("", _("Choose a time zone")),
        ("UTC", "UTC"),
        *(
            (part, [(name, name.partition("/")[2].replace("_", " ")) for name in found])
            for part, found in parts
        ),
    ]


class ZoneField(forms.TypedChoiceField):
    """A time zone by its IANA name."""

    def __init__(self) -> None:
        super().__init__(
            choices=_zones,
            label=_("Time zone"),
            help_text=_(
                "All times of this studio are by its clocks, and those go by the rules of this place."
            ),
        )


class PlaceForm(SetUpForm):
    """Where it is, what it is called, and in which units it counts."""

    time_zone = ZoneField()
    signed = ("latitude", "longitude")

    class Meta:
        model = Studio
        fields = [
            *["name", "time_zone", "address", "latitude", "longitude", "email"],
            *["temperature_unit", "length_unit", "currency"],
        ]
        labels = {
            "name": _("Name"),
            "address": _("Address"),
            "latitude": _("Latitude"),
            "longitude": _("Longitude"),
            "email": _("E-mail of the studio"),
            "temperature_unit": _("Temperatures in"),
            "length_unit": _("Lengths in"),
            "currency": _("Currency"),
        }
        help_texts = {
            "latitude": _(
                "In degrees, south negative. For calendars that show a map; leave both empty, else."
            ),
            "longitude": _("In degrees, west negative."),
            "email": _("Invitations to calendars come from here; empty: from the service."),
            "temperature_unit": _("For mails and for whoever has chosen no units of their own."),
            "currency": _("By its three letters, such as EUR; empty where no prices are asked."),
        }

    parts = (
        Part(title=_("The place"), names=["name", "time_zone", "address", "latitude", "longitude", "email"]),
        Part(title=_("Units"), names=["temperature_unit", "length_unit", "currency"]),
    )


class OpenForm(SetUpForm):
    """A new studio: as little as it takes to have one; the rest stands on its set-up."""

    time_zone = ZoneField()

    class Meta(PlaceForm.Meta):
        fields = ["name", "time_zone", "temperature_unit", "length_unit", "currency"]


class RulesForm(SetUpForm):
    """Until when a class is booked, and what runs without anybody there."""

    class Meta:
        model = Studio
        fields = ["notice_min", "latest_end", "hold_gap_min", "electric_unattended"]
        labels = {
            "notice_min": _("A class is booked so long before it, at least (minutes)"),
            "latest_end": _("Classes are over by"),
            "hold_gap_min": _("An annealer is kept hot for a second class for at most (minutes)"),
            "electric_unattended": _("Electric heat-up may run with nobody there"),
        }
        help_texts = {
            "latest_end": _("For the neighbours, or the lease. Empty: whenever somebody is there."),
            "hold_gap_min": _("One night for two classes instead of two. Common practice, no source."),
            "electric_unattended": _(
                "Gas is attended from lighting to off in any case. Whether current may heat unattended is "
                "for your insurer, the makers’ instructions and local codes to say."
            ),
        }


class SeatsForm(SetUpForm):
    """Prices, deadlines and reminders of whoever comes."""

    class Meta:
        model = Studio
        fields = [
            *["torch_hour_price", "price_per_kwh", "gas_price_per_kwh"],
            *["keep_seat_min", "cancel_deadline_h", "offer_h", "decision_days"],
            *["remind_h", "day_sheet_at", "uncollected_days"],
        ]
        labels = {
            "torch_hour_price": _("A torch in open bench time, for an hour"),
            "price_per_kwh": _("Electricity, for a kWh"),
            "gas_price_per_kwh": _("Gas, for a kWh of heat input"),
            "keep_seat_min": _("A seat is kept while its form is filled in (minutes)"),
            "cancel_deadline_h": _("A seat is given back until so long before it begins (hours)"),
            "offer_h": _("A seat that came free is offered to the next in line for (hours)"),
            "decision_days": _("Whether a class takes place is decided so long before it (days)"),
            "remind_h": _("People are reminded so long before (hours)"),
            "day_sheet_at": _("The day’s sheet is sent to the technicians at"),
            "uncollected_days": _("Pieces are listed as uncollected after (days)"),
        }
        help_texts = {
            "torch_hour_price": _("Empty: none is asked."),
            "price_per_kwh": _("What a firing costs is worked out with it; empty: it is not."),
            "cancel_deadline_h": _("Later the studio decides. 0: until it begins."),
            "decision_days": _("A class below its least number of seats is flagged from then on."),
            "remind_h": _("0: nobody is reminded."),
        }

    parts = (
        Part(
            title=_("Prices"),
            note=_("In the currency of the studio. What is reserved already keeps its price."),
            names=["torch_hour_price", "price_per_kwh", "gas_price_per_kwh"],
        ),
        Part(title=_("Deadlines"), names=["keep_seat_min", "cancel_deadline_h", "offer_h", "decision_days"]),
        Part(title=_("What is sent, and listed"), names=["remind_h", "day_sheet_at", "uncollected_days"]),
    )


class LimitsForm(SetUpForm):
    """What glass may bear here: permitted stress, the shortest soak, and the fastest rates by thickness."""

    measures = {
        "heating_6_mm_c_per_h": "rate",
        "heating_12_mm_c_per_h": "rate",
        "cooling_6_mm_c_per_h": "rate",
        "cooling_12_mm_c_per_h": "rate",
        "sharing_tolerance_k": "difference",
    }

    class Meta:
        model = Studio
        fields = [
            *["kept_stress_mpa", "passing_stress_mpa", "soak_floor_min_per_mm", "sharing_tolerance_k"],
            *[
                "heating_6_mm_c_per_h",
                "heating_12_mm_c_per_h",
                "cooling_6_mm_c_per_h",
                "cooling_12_mm_c_per_h",
            ],
        ]
        labels = {
            "kept_stress_mpa": _("Permitted kept stress (MPa)"),
            "passing_stress_mpa": _("Permitted passing stress (MPa)"),
            "soak_floor_min_per_mm": _("Shortest soak, for each mm of glass (minutes)"),
            "sharing_tolerance_k": _("Annealing points that may share a firing, apart by at most"),
            "heating_6_mm_c_per_h": _("Heating, glass of 6 mm (1/4 in)"),
            "heating_12_mm_c_per_h": _("Heating, glass of 12 mm (1/2 in)"),
            "cooling_6_mm_c_per_h": _("Annealing, glass of 6 mm (1/4 in)"),
            "cooling_12_mm_c_per_h": _("Annealing, glass of 12 mm (1/2 in)"),
        }
        help_texts = {
            "kept_stress_mpa": _(
                "The tension that stays in the middle of a piece for ever, from cooling through the "
                "annealing range. Less is safer and slower: half of it takes about twice as long there. The "
                "book begins with 0.7."
            ),
            "passing_stress_mpa": _(
                "The tension at the surface while a piece is still cooling below its strain point; it is "
                "gone once all of it is cold. The book begins with 7."
            ),
            "soak_floor_min_per_mm": _(
                "No soak is shorter, whatever is calculated. 10 is an hour for each 6 mm: common practice, "
                "no source."
            ),
            "sharing_tolerance_k": _(
                "Pieces farther apart never go into one firing. Common practice, no source."
            ),
            "heating_6_mm_c_per_h": _("Empty: the glass alone decides."),
        }

    parts = (
        Part(
            title=_("Stress and soak"),
            note=_(
                "A firing is planned so that no piece keeps, or bears in passing, more than this. A "
                "calculation knows an even plate, not joins, thick feet or a draught: hard-won habits of "
                "your studio count."
            ),
            names=["kept_stress_mpa", "passing_stress_mpa", "soak_floor_min_per_mm", "sharing_tolerance_k"],
        ),
        Part(
            title=_("Ceilings: never faster than this"),
            note=_(
                "Between the two thicknesses, and beyond them, it goes by one over the thickness. Common "
                "practice, no source."
            ),
            names=[
                *["heating_6_mm_c_per_h", "heating_12_mm_c_per_h"],
                *["cooling_6_mm_c_per_h", "cooling_12_mm_c_per_h"],
            ],
        ),
    )


def _countries() -> list[tuple[str, Words]]:
    named = sorted((name, code) for code, name in countries().items())
    return [("", _("none is proposed")), *((code, name) for name, code in named)]


class HolidaysForm(SetUpForm):
    """Whose public holidays a weekly class is proposed to skip."""

    holiday_country = forms.TypedChoiceField(
        choices=_countries,
        required=False,
        label=_("Country"),
        help_text=_("A weekly class is proposed to skip its holidays; whoever books it decides."),
    )

    class Meta:
        model = Studio
        fields = ["holiday_country", "holiday_region"]
        labels = {"holiday_region": _("Region")}
        help_texts = {
            "holiday_region": _(
                "By its short name of ISO 3166-2 without the country, such as BY; empty: what the whole "
                "country keeps."
            )
        }


ABOUT: Mapping[str, type[SetUpForm]] = {
    "place": PlaceForm,
    "rules": RulesForm,
    "seats": SeatsForm,
    "limits": LimitsForm,
    "holidays": HolidaysForm,
}
