"""How the pages of kiln jobs name routes, aims, handwork and bounds, and write lengths."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from django import template
from django.utils.formats import number_format
from django.utils.text import get_text_list
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from scheduling import wording
from scheduling.models import JobSize
from scheduling.web.kiln_words import AIMS, HANDWORK, ROUTES
from scheduling.web.setup_forms.measured import units_of
from studios.models import Studio

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

register = template.Library()

BOUNDS: Mapping[str, StrOrPromise] = {
    "area": _("the area of the pieces"),
    "pairs": _("pieces of which no two go on one shelf"),
    "dual feasible": _("the sides of the pieces"),
    "cells": _("the room that round pieces take"),
    "loads": _("what goes together on a shelf"),
    "weights": _("the sides of the pieces"),  # in answers that an earlier release kept
    "search": _("every way to lay them, gone through"),
}


@register.filter
def route_name(route: str) -> str:
    """What is wanted of the kilns: full fuse, then slump."""
    return str(ROUTES.get(route, route.replace("-", " ")))


@register.filter
def aim_name(aim: str) -> str:
    """What is wanted most of a plan: ready earliest."""
    return str(AIMS.get(aim, aim.replace("-", " ")))


@register.filter
def handwork_name(does: str) -> str:
    """What is done by hand: wash the shelves."""
    return str(HANDWORK.get(str(does), str(does).replace("-", " ")))


@register.filter
def bound_name(bound_by: str) -> str:
    """By what it is known that fewer shelves do not do."""
    named = dict.fromkeys(str(BOUNDS.get(each, each)) for each in bound_by.split(", "))
    return get_text_list(list(named), gettext("and"))


@register.filter
def long_at(millimetres: float, studio: Studio) -> str:
    """A length as the studio's reader has it: 120 mm, or 4.72 in."""
    return wording.length(millimetres, studio)


@register.filter
def area_at(square_cm: float, studio: Studio) -> str:
    """An area as the studio's reader has it: 1700 cm², or 264 in²."""
    unit = units_of(studio).area
    return f"{number_format(round(square_cm * unit.scale))} {unit.sign}"


@register.filter
def size_at(size: JobSize | None, studio: Studio) -> str:
    """How large a piece is: 140 × 90 mm, or Ø 140 mm."""
    if size is None:
        return ""
    return wording.sized(size.length_mm, size.width_mm, studio, is_round=size.round)
