"""What was typed, as the records of the thermal model."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, TypeVar

from django.core.management.base import CommandError
from django.utils import timezone

from scheduling.management.firing.units import Scale
from scheduling.management.lookups import day_typed, equipment_named, glass_named, studio_named
from studios.models import Equipment, Studio
from studios.thermal import Body, Glass, Phase, Piece, Policy, Recipe, Segment, Shape
from studios.thermal.examine import ABOVE_ANNEALING_K
from studios.thermal.units import mm_from_in

Options = Mapping[str, Any]
Words = TypeVar("Words", bound=StrEnum)

BODY_OPTIONS = (
    "tau_h",
    "tau_low_h",
    "split_c",
    "ceiling_c",
    "power_kw",
    "ramp_limit_c_per_h",
    "ambient_c",
    "door_c",
)
NEEDED = ("tau_h", "ceiling_c", "power_kw")


@dataclass(frozen=True, kw_only=True)
class Place:
    """What it is fired in: its body, its name, what it draws, how many segments its controller takes."""

    body: Body
    name: str
    draws: tuple[str, ...]
    by_gas: bool = False
    controller_segments: int | None = None


@dataclass(frozen=True, kw_only=True)
class Asked:
    """A firing that somebody wants to see: by a recipe, or by a program of their own."""

    pieces: tuple[Piece, ...]
    place: Place
    policy: Policy
    scale: Scale
    recipe: Recipe | None
    own: tuple[Segment, ...]
    start_c: float | None
    working_min: float


def asked(options: Options) -> Asked:
    """Raises CommandError for what cannot be read, and what the thermal model raises."""
    studio = studio_named(options["studio"]) if options["studio"] else None
    scale = _scale(options, studio)
    pieces = tuple(_pieces(options))
    _require_one_program(options)
    return Asked(
        pieces=pieces,
        place=_place(options, studio),
        policy=studio.as_policy() if studio else Policy(),
        scale=scale,
        recipe=one_of(Recipe, options["recipe"], "recipe") if options["recipe"] else None,
        own=tuple(_own(options["segment"] or [], pieces[0].glass, scale, options["start_c"])),
        start_c=options["start_c"],
        working_min=60 * options["working_h"],
    )


def one_of(kind: type[Words], text: str, what: str) -> Words:
    try:
        return kind(text)
    except ValueError as error:
        raise CommandError(f"There is no {what} {text!r}; there are: {', '.join(kind)}.") from error


def _scale(options: Options, studio: Studio | None) -> Scale:
    """As asked, else as the studio reads, else °C."""
    unit = options["unit"] or (studio.temperature_unit if studio else "C")
    return Scale(fahrenheit=unit == Studio.TemperatureUnit.FAHRENHEIT)


def _require_one_program(options: Options) -> None:
    if bool(options["recipe"]) == bool(options["segment"]):
        raise CommandError("Name a program with --recipe, or give your own with one --segment for each.")
    if options["segment"] and options["working_h"]:
        raise CommandError(
            "A program of your own says by its holds how long it is worked from: no --working-h."
        )


def _pieces(options: Options) -> Iterator[Piece]:
    glass = glass_named(options["glass"])
    yield Piece(
        glass=glass,
        shape=one_of(Shape, options["shape"], "shape"),
        thickness_mm=_thickness_mm(options),
        foot_mm=options["foot_mm"],
        fused_with=tuple(glass_named(slug) for slug in options["fused_with"] or ()),
    )
    for text in options["also"] or ():
        yield _also(text)


def _thickness_mm(options: Options) -> float:
    mm, inches = options["thickness_mm"], options["thickness_in"]
    if (mm is None) == (inches is None):
        raise CommandError("Give the thickness once: --thickness-mm or --thickness-in.")
    return float(mm) if mm is not None else mm_from_in(inches)


def _also(text: str) -> Piece:
    """One more piece in the load."""
    parts = text.split(":")
    thickness_mm = _number(parts[-1])
    if len(parts) != 3 or thickness_mm is None:
        raise CommandError(
            f"{text!r} is no piece; write it GLASS:SHAPE:MM, such as fusing-90:plate-on-shelf:6."
        )
    return Piece(
        glass=glass_named(parts[0]), shape=one_of(Shape, parts[1], "shape"), thickness_mm=thickness_mm
    )


def _place(options: Options, studio: Studio | None) -> Place:
    given = {name: options[name] for name in BODY_OPTIONS if options[name] is not None}
    if options["equipment"]:
        if given:
            raise CommandError(f"--equipment has its own record: leave out {_listed(given)}.")
        if studio is None:
            raise CommandError("Say in which studio the equipment stands: --studio.")
        return _of_record(equipment_named(studio, options["equipment"]), options)
    missing = [name for name in NEEDED if name not in given]
    if missing:
        raise CommandError(f"Name the equipment (--equipment and --studio), or add {_listed(missing)}.")
    return Place(
        body=Body(**given),
        name="equipment as given",
        draws=(f"{given['power_kw']:g} kW",),
        controller_segments=options["controller_segments"],
    )


def _listed(names: Mapping[str, Any] | list[str]) -> str:
    return " and ".join(f"--{name.replace('_', '-')}" for name in names)


def _of_record(equipment: Equipment, options: Options) -> Place:
    """The record in force on the day, in the room as it is in that season."""
    day = day_typed(options["on"]) if options["on"] else timezone.localdate(timezone=equipment.studio.zone)
    body = equipment.body_on(day)
    if body is None:
        raise CommandError(f"{equipment} has no thermal record: enter one in its set-up.")
    drawn = (f"{draw.amount:g} {draw.supply.unit} of {draw.supply}" for draw in equipment.draws.all())
    return Place(
        body=body,
        name=f"{equipment} at {equipment.studio} on {day}",
        draws=tuple(drawn) or (f"{body.power_kw:g} kW",),
        by_gas=equipment.gas_fired,
        controller_segments=options["controller_segments"] or equipment.controller_segments,
    )


def _own(texts: list[str], glass: Glass, scale: Scale, start_c: float | None) -> Iterator[Segment]:
    """The technician's own segments, each with the phase that it is for this glass."""
    typed = [_typed(text, scale) for text in texts]
    relaxing = [
        at
        for at, (_, target_c, hold_min) in enumerate(typed)
        if hold_min > 0 and glass.strain_c <= target_c <= glass.annealing_c + ABOVE_ANNEALING_K
    ]
    at_c = -math.inf if start_c is None else start_c
    for at, (rate, target_c, hold_min) in enumerate(typed):
        yield Segment(
            rate_c_per_h=rate,
            target_c=target_c,
            hold_min=hold_min,
            phase=_way(at_c, target_c, glass),
            governed_by="as typed",
            hold_phase=Phase.SOAK if relaxing and at == relaxing[-1] else Phase.HOLDING,
            hold_governed_by="as typed" if hold_min else "",
        )
        at_c = target_c


def _typed(text: str, scale: Scale) -> tuple[float | None, float, float]:
    rate_typed, _, rest = text.partition(":")
    target_typed, _, hold_typed = rest.partition(":")
    rate, target, hold_min = _number(rate_typed), _number(target_typed), _number(hold_typed)
    full = rate_typed.strip().lower() == "full"
    if target is None or hold_min is None or (rate is None and not full):
        raise CommandError(
            f"{text!r} is no segment; write it RATE:TARGET:HOLD, such as 150:520:30 or full:800:10."
        )
    return None if rate is None else scale.c_per_h(rate), scale.c(target), hold_min


def _number(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) else None


def _way(from_c: float, to_c: float, glass: Glass) -> Phase:
    if to_c > from_c:
        return Phase.HEAT_UP
    relaxes = glass.strain_c < from_c <= glass.annealing_c + ABOVE_ANNEALING_K
    mostly = (from_c + to_c) / 2 >= glass.strain_c
    return Phase.ANNEALING if relaxes and mostly else Phase.COOLING
