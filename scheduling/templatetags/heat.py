"""How the pages of firings and equipment name phases, rules, programs and shapes, and write thicknesses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django import template
from django.utils.translation import gettext_lazy as _

from scheduling.web import cautions
from scheduling.wording import decimal, length_unit
from studios.models import Studio
from studios.thermal.units import F_PER_K, in_from_mm

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

register = template.Library()

PHASES: dict[str, StrOrPromise] = {
    "drying": _("drying"),
    "loading": _("loading"),
    "purge": _("purge"),
    "heat-up": _("heat-up"),
    "holding": _("holding"),
    "working": _("working"),
    "soak": _("soak"),
    "annealing": _("annealing"),
    "cooling": _("cooling"),
    "waiting": _("waiting"),
    "unloading": _("unloading"),
    "charging": _("charging"),
    "fining": _("fining"),
    "outage": _("outage"),
}
RULES: dict[str, StrOrPromise] = {
    "kept stress": _("the stress that the glass may keep"),
    "passing stress": _("the stress that the glass bears in passing"),
    "studio ceiling": _("the studio’s ceiling for this thickness"),
    "equipment": _("the equipment: it goes no faster"),
    "studio floor": _("the studio’s shortest soak"),
    "relaxation": _("the time that stress needs to relax"),
    "recipe": _("the program"),
    "last piece": _("the last piece"),
    "second stage": _("the second stage: glass still settles just below its strain point"),
    "working hours": _("the hours in which pieces come"),
}
RECIPES: dict[str, StrOrPromise] = {
    "anneal": _("anneal"),
    "batch-anneal": _("batch anneal"),
    "full-fuse": _("full fuse"),
    "tack-fuse": _("tack fuse"),
    "slump": _("slump"),
    "fire-polish": _("fire polish"),
    "kiln-cast": _("kiln cast"),
}
SHAPES: dict[str, StrOrPromise] = {
    "plate-on-shelf": _("plate on shelf"),
    "plate-free": _("plate, both faces free"),
    "vessel": _("vessel"),
    "cylinder": _("cylinder"),
    "sphere": _("sphere"),
    "bead": _("bead"),
}
STRESSES: dict[str, StrOrPromise] = {
    "kept, in the middle": _("kept, in the middle"),
    "passing, at the surface while cooling": _("passing, at the surface while cooling"),
    "passing, in the middle while heating": _("passing, in the middle while heating"),
}


@register.filter
def phase_name(kind: str) -> str:
    """A phase in the reader's language."""
    return str(PHASES.get(str(kind), kind))


@register.filter
def ruled_by(rule: str) -> str:
    """What governed a segment, said in full."""
    return str(RULES.get(rule, rule))


@register.filter
def recipe_name(recipe: str) -> str:
    """The kind of program: full fuse."""
    return str(RECIPES.get(recipe, recipe.replace("-", " ")))


@register.filter
def shape_name(shape: str) -> str:
    """What a piece is like: plate on shelf."""
    return str(SHAPES.get(shape, shape.replace("-", " ")))


@register.filter
def stress_name(what: str) -> str:
    """Which stress a line of the report is about."""
    return str(STRESSES.get(what, what))


@register.filter
def thick(millimetres: float, studio: Studio) -> str:
    """A thickness in the reader's unit: 6 mm, or 0.24 in."""
    if length_unit(studio) == Studio.LengthUnit.INCH:
        return f"{decimal(in_from_mm(millimetres), 2)} in"
    return f"{decimal(millimetres, 0 if round(millimetres, 1) % 1 == 0 else 1)} mm"


@register.filter
def apart(kelvin: float, unit: str) -> str:
    """A difference of temperature, without its sign: 23 °C, or 41 °F."""
    return f"{abs(kelvin) * (F_PER_K if unit == 'F' else 1):.0f} °{unit}"


@register.filter
def cautions_about(kind: str) -> tuple[cautions.Caution, ...]:
    """What to mind at a piece of equipment."""
    return cautions.cautions_about(kind)
