"""A term at two studios, made up: classes placed one after another as they would have been booked."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from typing import Any
from zoneinfo import ZoneInfo

from scheduling.engine.heat import HOT_STATIONS
from scheduling.engine.records import (
    Apparatus,
    Ask,
    ChargePlan,
    Duty,
    Engagement,
    FiringAsk,
    FiringHeld,
    FiringRecord,
    Held,
    Kind,
    Placement,
    PotRecord,
    Store,
    StudioRecord,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.stores import glass_drawn
from scheduling.engine.world import World
from studios.thermal import Body, Piece, Policy, Recipe, Shape, family

DAY = 24 * 60
DAYS = 90
HORIZON = (-10 * DAY, (DAYS + 45) * DAY)
OPENS, CLOSES = 8 * 60, 22 * 60
HOLE = ((HORIZON[0], Body(tau_h=0.5, ceiling_c=1350.0, power_kw=60.0, ambient_c=32.0)),)
WARMER = ((HORIZON[0], Body(tau_h=0.2, ceiling_c=900.0, power_kw=8.0, ambient_c=32.0)),)
ANNEALER = ((HORIZON[0], Body(tau_h=4.5, tau_low_h=5.5, ceiling_c=900.0, power_kw=9.0, ambient_c=32.0)),)
CHARGE = ChargePlan(
    turn_up_min=120,
    charges=4,
    charge_min=30,
    gap_min=90,
    fining_min=720,
    coming_down_min=180,
    charging_c=1260,
)
GLASS = family("hot-shop").glass
# What classes are: how long, how thick, and what their gatherers draw from the pot.
CLASSES = ((120, 4.0, 6.0), (150, 6.0, 8.0), (180, 8.0, 10.0), (240, 12.0, 14.0))


def asks(*, teach_min: int = 150, thickness_mm: float = 6.0, glass_kg: float = 8.0) -> list[Ask]:
    """A class for six, with the same teacher, at the one studio or the other."""
    piece = Piece(glass=GLASS, shape=Shape.VESSEL, thickness_mm=thickness_mm, foot_mm=thickness_mm * 1.5)
    return [
        Ask(
            title=f"{teach_min} minutes of blowing",
            studio_id=studio,
            teach_min=teach_min,
            setup_min=15,
            cleanup_min=15,
            person_id=1,
            stations=((Kind.FURNACE, 1), (Kind.GLORY_HOLE, 1)),
            firings=(FiringAsk(kind=Kind.ANNEALER, recipe=Recipe.ANNEAL, piece=piece, footprint_cm2=900),),
            glass_kg=glass_kg,
        )
        for studio in (1, 2)
    ]


def term(*, each_day: int = 2) -> World:
    """The two studios with a term of classes by several teachers in them."""
    world, chance, keys = empty(), random.Random(4), count(1)
    for day in range(DAYS):
        for studio in (0, 1):
            for _ in range(each_day):
                teach_min, thickness_mm, glass_kg = chance.choice(CLASSES)
                ask = asks(teach_min=teach_min, thickness_mm=thickness_mm, glass_kg=glass_kg)[studio]
                start = day * DAY + chance.randrange(OPENS + 60, CLOSES - teach_min, 15)
                answer = place(world, replace(ask, person_id=None), start)
                if isinstance(answer, Placement):
                    enter(world, answer, keys)
    return replace(world, people={1: tuple(_engagements(chance))}, names={1: "Somebody"})


def enter(world: World, placement: Placement, keys: Iterator[int]) -> None:
    """What a start holds, entered as it would be read back."""
    for held in placement.held:
        hot = world.apparatus[held.apparatus_id].kind in HOT_STATIONS
        core = (placement.start, placement.end) if hot else held.exclusive
        _enter(world, held, core, next(keys), None)
    for firing in placement.firings:
        if firing.joins is not None:
            near = list(world.claims(firing.held.apparatus_id).meeting(*firing.held.exclusive, 1))
            world.strike(next(t for t in near if t.firing is not None and t.firing.id == firing.joins))
        _enter(world, firing.held, firing.held.exclusive, next(keys), firing)


def _enter(world: World, held: Held, core: Span, key: int, firing: FiringHeld | None) -> None:
    claim = Taken(
        apparatus_id=held.apparatus_id,
        place=held.place,
        span=held.exclusive,
        core=core,
        held_by="a class",
        occupancy_id=key,
        firing=None if firing is None else _record(firing, key),
    )
    glass = Use(span=glass_drawn(core[1]), amount=held.glass_kg, held_by="a class", occupancy_id=key)
    draws = tuple((supply, replace(use, occupancy_id=key)) for supply, use in held.draws)
    world.enter(claim, draws, glass if held.glass_kg else None)


def _record(firing: FiringHeld, key: int) -> FiringRecord:
    return FiringRecord(
        id=key, recipe=firing.recipe, lots=firing.lots, ready=firing.at_hold, last_in=firing.last_in
    )


def _engagements(chance: random.Random) -> Iterator[Engagement]:
    """Two evenings a week at the one or the other."""
    for day in range(0, DAYS, 3):
        begin = day * DAY + chance.choice([9, 13, 18]) * 60
        studio = chance.choice([1, 2])
        yield Engagement(
            span=(begin, begin + 180), studio_id=studio, studio=f"Studio {studio}", what="a class"
        )


def empty() -> World:
    """Two studios: each with a furnace, glory holes with bench and pipe warmer, annealers, gas and power."""
    things = [thing for studio in (1, 2) for thing in _things(studio)]
    return World(
        now=HORIZON[0],
        horizon=HORIZON,
        studios={key: _studio(key) for key in (1, 2)},
        apparatus={thing.id: thing for thing in things},
        taken={},
        supplies={
            key: SupplyRecord(id=key, name=name, unit="kW", limit=limit, uses=())
            for studio in (1, 2)
            for key, name, limit in ((studio * 10 + 1, "gas", 140.0), (studio * 10 + 2, "feeder", 40.0))
        },
        travel={(1, 2): 35, (2, 1): 35},
        pots={studio * 100 + 1: _pot() for studio in (1, 2)},
    )


def _things(studio: int) -> Iterator[Apparatus]:
    first, gas, power = studio * 100, studio * 10 + 1, studio * 10 + 2
    yield _thing(first + 1, Kind.FURNACE, places=4, working_c=1140.0)
    for number in range(4 - studio):
        hole = first + 10 * (number + 1)
        yield _thing(
            hole, Kind.GLORY_HOLE, bodies=HOLE, working_c=1150.0, gas_fired=True, draws=((gas, 45.0),)
        )
        yield _thing(hole + 1, Kind.BENCH, station_id=hole)
        yield _thing(
            hole + 2, Kind.PIPE_WARMER, bodies=WARMER, working_c=500.0, station_id=hole, draws=((power, 4.0),)
        )
    for number in range(3):
        shelf = {"capacity_cm2": 3000 + 1000 * number, "clear_min": 20}
        yield _thing(first + 80 + number, Kind.ANNEALER, bodies=ANNEALER, draws=((power, 9.0),), **shelf)


def _thing(number: int, kind: Kind, **facts: Any) -> Apparatus:
    common: dict[str, Any] = {
        "studio_id": number // 100,
        "active": True,
        "name": f"{kind.value} {number}",
        "number": number,
        "places": 1,
        "station_id": None,
        "bodies": (),
        "gas_fired": False,
        "working_c": None,
        "touch_c": 50.0,
        "prepare_min": 0,
        "clear_min": 0,
        "capacity_cm2": 0,
        "controller_segments": None,
        "draws": (),
    }
    return Apparatus(id=number, kind=kind, **{**common, **facts})


def _studio(key: int) -> StudioRecord:
    hours = tuple((day * DAY + OPENS, day * DAY + CLOSES) for day in range(-10, DAYS + 45) if day % 7 != key)
    return StudioRecord(
        id=key,
        name=f"Studio {key}",
        zone=ZoneInfo("UTC"),
        fahrenheit=False,
        notice_min=120,
        electric_unattended=True,
        hold_gap_min=240,
        policy=Policy(),
        staffed=dict.fromkeys(Duty, hours),
    )


def _pot() -> PotRecord:
    """A pot that is filled every week."""
    refills = tuple((day * DAY, 220.0) for day in range(-10, DAYS + 45, 7))
    store = Store(name="pot", unit="kg", full=220.0, floor=60.0, per_min=1.0, refills=refills)
    return PotRecord(store=store, plan=CHARGE)
