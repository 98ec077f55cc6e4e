"""What studios do: hours of a night, temperatures, ceilings, floors and doors."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from studios.outside.check import About, Between, Check, Seen
from studios.outside.samples import kiln, slab, soda_lime
from studios.thermal import FAMILIES, PROCESSES, Body, Piece, Policy, Recipe, Shape, plan_firing
from studios.thermal.body import HOTTEST_DOOR_C
from studios.thermal.limits import annealing_limit, heating_limit, soak
from studios.thermal.units import f_from_c

NO_SOURCE = "no source"
HOT_SHOP_GLASS = soda_lime(expansion_1e7=96.0)


def _practice(what: str, unit: str, published: About | Between, computed: partial[float]) -> Check:
    return Check(
        what=what, unit=unit, published=published, seen=Seen.PRACTICE, source=NO_SOURCE, computed=computed
    )


def _vessel(wall_mm: float) -> Piece:
    return slab(wall_mm, Shape.VESSEL, glass=HOT_SHOP_GLASS)


def _tail_h(recipe: Recipe, piece: Piece, body: Body) -> float:
    """Last piece in, or door closed, to the open door."""
    return plan_firing(recipe=recipe, pieces=[piece], body=body).tail.duration_min / 60


def _night(wall_mm: float, body: Body) -> partial[float]:
    return partial(_tail_h, Recipe.ANNEAL, _vessel(wall_mm), body)


def _fused(thickness_mm: float, body: Body) -> partial[float]:
    tile = Piece(glass=FAMILIES["fusing-90"].glass, shape=Shape.PLATE_ON_SHELF, thickness_mm=thickness_mm)
    return partial(_tail_h, Recipe.FULL_FUSE, tile, body)


def night_rows() -> Iterator[Check]:
    vessel = "closed vessel, wall 10 mm, α 96e-7, hold 510 °C, ambient 22 °C, door 50 °C"
    for tau_h, low, high in ((4.0, 12.0, 16.0), (6.0, 17.0, 22.0)):
        yield _practice(
            f"{vessel}, τ {tau_h:g} h: last piece to open door",
            "h",
            Between(low=low, high=high),
            _night(10.0, kiln(tau_h, door_c=50.0)),
        )
    yield _practice(
        "the same in a small annealer, τ 2.5 h",
        "h",
        Between(low=8.0, high=12.0),
        _night(10.0, kiln(2.5, door_c=50.0)),
    )
    for ambient_c, published in ((22.0, 15.1), (35.0, 20.1), (38.0, 23.7)):
        yield Check(
            what=f"10 mm vessel, τ 4 h, last piece to 40 °C, ambient {ambient_c:g} °C",
            unit="h",
            published=About(value=published, within=0.1),
            seen=Seen.DERIVED,
            source="soak, ceilings and Newton by hand",
            computed=_night(10.0, kiln(4.0, ambient_c=ambient_c, door_c=40.0)),
        )


def fusing_rows() -> Iterator[Check]:
    yield _practice(
        "6 mm tile, full fuse, small kiln (τ 2.75 h, 25 °C): door closed to open",
        "h",
        About(value=16.0, within=2.0),
        _fused(6.0, kiln(2.75, ambient_c=25.0)),
    )
    yield _practice(
        "6 mm tile, full fuse, big brick kiln (τ 4.5 h, 30 °C): door closed to open",
        "h",
        Between(low=20.0, high=24.0),
        _fused(6.0, kiln(4.5, ambient_c=30.0)),
    )


def _process_c(recipe: Recipe) -> float:
    return PROCESSES[recipe].process_c


def _hold_c(slug: str) -> float:
    """Where an annealer is held for a family's glass."""
    piece = Piece(glass=FAMILIES[slug].glass, shape=Shape.VESSEL, thickness_mm=5.0)
    return plan_firing(recipe=Recipe.ANNEAL, pieces=[piece], body=kiln(4.0)).hold_c


def temperature_rows() -> Iterator[Check]:
    ranges = (
        (Recipe.SLUMP, "slump", 620.0, 680.0),
        (Recipe.TACK_FUSE, "tack fuse", 730.0, 760.0),
        (Recipe.FULL_FUSE, "full fuse", 790.0, 816.0),
    )
    for recipe, name, low, high in ranges:
        yield _practice(
            f"{name}: temperature", "°C", Between(low=low, high=high), partial(_process_c, recipe)
        )
    holds = (("hot-shop", 480.0, 515.0), ("soft-104", 504.0, 516.0), ("borosilicate-33", 560.0, 566.0))
    for slug, low, high in holds:
        name = FAMILIES[slug].glass.name
        yield _practice(
            f"annealer for {name}: hold", "°C", Between(low=low, high=high), partial(_hold_c, slug)
        )
    yield _practice(
        "soft 104 and borosilicate: annealing points apart by more than firings may share",
        "K",
        Between(low=Policy().sharing_tolerance_k + 1),
        partial(_apart_k, "soft-104", "borosilicate-33"),
    )


def _apart_k(first: str, second: str) -> float:
    return abs(FAMILIES[first].glass.annealing_c - FAMILIES[second].glass.annealing_c)


def _heating(thickness_mm: float) -> float:
    return heating_limit(slab(thickness_mm), Policy()).rate_c_per_h


def _cooling(thickness_mm: float) -> float:
    return annealing_limit(slab(thickness_mm, Shape.PLATE_FREE), Policy()).rate_c_per_h


def _soak_min(thickness_mm: float) -> float:
    piece = slab(thickness_mm)
    return float(soak(piece, Policy(), piece.glass.annealing_c).minutes)


def ceiling_rows() -> Iterator[Check]:
    rows = (
        ("heating 6 mm", Between(low=150.0, high=250.0), _heating, 6.0),
        ("heating 12 mm", About(value=110.0, within=0.5), _heating, 12.0),
        ("cooling 6 mm through the annealing range", About(value=85.0, within=0.5), _cooling, 6.0),
        ("cooling 12 mm through the annealing range", About(value=55.0, within=0.5), _cooling, 12.0),
    )
    for what, published, rate, thickness_mm in rows:
        yield _practice(f"ceiling, {what}", "°C/h", published, partial(rate, thickness_mm))
    for thickness_mm in (6.0, 12.0):
        yield _practice(
            f"soak of {thickness_mm:g} mm: one hour for each 6 mm",
            "min",
            Between(low=60 * thickness_mm / 6),
            partial(_soak_min, thickness_mm),
        )


def _door_c(ambient_c: float) -> float:
    return kiln(4.0, ambient_c=ambient_c).opening_c


def door_rows() -> Iterator[Check]:
    yield _practice(
        "door, the hottest ever permitted",
        "°C",
        About(value=93.0, within=0.0),
        partial(float, HOTTEST_DOOR_C),
    )
    yield _practice(
        "door, the same in °F", "°F", About(value=200.0, within=1.0), partial(f_from_c, HOTTEST_DOOR_C)
    )
    yield _practice(
        "door by the house, ambient 22 °C", "°C", About(value=50.0, within=0.0), partial(_door_c, 22.0)
    )
    yield _practice(
        "door by the house, ambient 40 °C", "°C", About(value=55.0, within=0.0), partial(_door_c, 40.0)
    )
    yield _practice(
        "door by the house in the hottest room, ambient 60 °C",
        "°C",
        Between(high=93.0),
        partial(_door_c, 60.0),
    )


ROWS = (*night_rows(), *fusing_rows(), *temperature_rows(), *ceiling_rows(), *door_rows())
