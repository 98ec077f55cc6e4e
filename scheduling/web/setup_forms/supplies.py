"""Supplies and glasses."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext_lazy as _

from scheduling.web.setup_forms.base import Part, SetUpForm, Source
from studios.models import GlassType, Supply, SupplyKind

RATE_OF = {
    SupplyKind.ELECTRICITY: _("Greatest rate (kW)"),
    SupplyKind.OXYGEN: _("Greatest rate (L/min)"),
    SupplyKind.FUEL_GAS: _("Greatest rate (kW)"),
    SupplyKind.EXHAUST: _("Greatest rate (m³/h)"),
    SupplyKind.PEOPLE: _("People at once"),
}
RATE_HELP = {
    SupplyKind.ELECTRICITY: _(
        "What the breaker is rated for. Loads of 3 hours or more are counted at 125 %, so that they take 80 "
        "% of it at most (NFPA 70, 210.20(A) and 215.3)."
    ),
    SupplyKind.OXYGEN: _("What the regulator, the line or the concentrator gives at its working pressure."),
    SupplyKind.FUEL_GAS: _("As heat input: what the line leaves when other appliances have had their share."),
    SupplyKind.EXHAUST: _("What the fan moves with its hoods open."),
    SupplyKind.PEOPLE: _("Whoever teaches and assists included."),
}
CONTENT_OF = {
    SupplyKind.OXYGEN: (_("Content of full cylinders (L)"), _("Left in them at least (L)")),
    SupplyKind.FUEL_GAS: (_("Content of a full tank (kWh)"), _("Left in it at least (kWh)")),
}
STORED = ("content", "floor", "change_over")


class SupplyForm(SetUpForm):
    """What several pieces of equipment draw at once; asked in the words of its kind."""

    class Meta:
        model = Supply
        fields = ["name", "limit", *STORED]
        labels = {"name": _("Name"), "change_over": _("Staff can change over to full cylinders")}
        help_texts = {
            "content": _(
                "Empty: it comes through a line and never runs dry. Counted from the first refill on."
            ),
            "floor": _("Cylinders are never emptied wholly: air would get in."),
            "change_over": _("A class that would run it dry then brings a change-over before it."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kind = SupplyKind(self.instance.kind)
        self.fields["limit"].label, self.fields["limit"].help_text = RATE_OF[kind], RATE_HELP[kind]
        if kind not in CONTENT_OF:
            for name in STORED:
                del self.fields[name]
        else:
            self.fields["content"].label, self.fields["floor"].label = CONTENT_OF[kind]
            self.fields["floor"].required = False

    def clean_floor(self) -> float:
        """Nothing said: it may be used up."""
        return float(self.cleaned_data["floor"] or 0.0)


class GlassForm(SetUpForm):
    """A glass as its data sheet says it."""

    measures = dict.fromkeys(("annealing_c", "strain_c", "softening_c", "working_c"), "degrees")

    class Meta:
        model = GlassType
        fields = [
            *["name", "expansion_1e7_per_k", "strain_c", "annealing_c", "softening_c", "working_c", "source"],
            *[
                "youngs_gpa",
                "poisson",
                "conductivity_w_per_m_k",
                "density_kg_per_m3",
                "heat_capacity_j_per_kg_k",
            ],
        ]
        labels = {
            "name": _("Name"),
            "expansion_1e7_per_k": _("Expansion (10⁻⁷/K)"),
            "strain_c": _("Strain point"),
            "annealing_c": _("Annealing point"),
            "softening_c": _("Softening point"),
            "working_c": _("Working point"),
            "source": _("Where the values come from"),
            "youngs_gpa": _("Young’s modulus (GPa)"),
            "poisson": _("Poisson’s ratio"),
            "conductivity_w_per_m_k": _("Conductivity near 500 °C (W/(m K))"),
            "density_kg_per_m3": _("Density (kg/m³)"),
            "heat_capacity_j_per_kg_k": _("Heat capacity near 500 °C (J/(kg K))"),
        }
        help_texts = {
            "expansion_1e7_per_k": _(
                "A glass “of 96” has 96. Glasses that differ are never fused in one piece."
            ),
            "annealing_c": _("Where stress goes within minutes: 10¹² Pa·s."),
            "strain_c": _("Below it stress stays: 10¹³·⁵ Pa·s."),
            "working_c": _("Where the viscosity is 10³ Pa·s; empty where the data sheet does not say."),
            "source": _("The maker’s data sheet and its date, say."),
        }
        widgets = {"source": Source}

    parts = (
        Part(
            title=_("The glass"),
            names=[
                "name",
                "expansion_1e7_per_k",
                "strain_c",
                "annealing_c",
                "softening_c",
                "working_c",
                "source",
            ],
        ),
        Part(
            title=_("How stiff it is, and how it carries heat"),
            note=_("Filled in with what soda-lime glass has, from memory; better what the data sheet says."),
            names=[
                *["youngs_gpa", "poisson", "conductivity_w_per_m_k"],
                *["density_kg_per_m3", "heat_capacity_j_per_kg_k"],
            ],
        ),
    )


# Where no data sheet says it: soda-lime glass, from memory.
USUAL = {
    "youngs_gpa": 70,
    "poisson": 0.22,
    "conductivity_w_per_m_k": 1.4,
    "density_kg_per_m3": 2500,
    "heat_capacity_j_per_kg_k": 1170,
}
