"""Two studios at random: sessions, firings, outages, hours by duty, records that change, and clocks too."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
from hypothesis import strategies as st

from scheduling.engine.records import ELSEWHERE, Apparatus, Ask, Duty, Engagement, Kind, StudioRecord
from scheduling.engine.world import World
from tests.engine.reference.ledger import Ledger
from tests.engine.reference.minutes import Flags, Minutes, Stretch
from tests.engine.reference.parts import HOT
from tests.engine.reference.peopled_worlds import assisted, peopled
from tests.engine.reference.stocked_worlds import with_contents
from tests.engine.reference.town import (
    BODIES,
    FAR_POWER,
    GAS,
    GLASSES,
    NEEDS,
    POLICY,
    POWER,
    SUPPLIES,
    THINGS,
    TWINS,
    fired,
    piece,
)

LENGTH = 1300
# In each of these nights the clocks of the hot shop change, in spring and in autumn.
NIGHTS = (
    (ZoneInfo("America/Chicago"), dt.date(2031, 3, 9)),
    (ZoneInfo("America/Chicago"), dt.date(2031, 11, 2)),
    (ZoneInfo("Europe/Berlin"), dt.date(2031, 3, 30)),
)
# Where several can be had, what goes wrong in one is hidden by the others: mostly there is only one.
HOLES_IN_SERVICE = ({2, 26}, {5, 26}, {2, 5, 26})
OVENS_IN_SERVICE = ({11, 24}, {12, 24}, {13, 24}, {11, 12, 24}, {11, 12, 13, 24})


@st.composite
def cases(draw: st.DrawFn) -> tuple[World, Ask, int, int]:
    """A world, what is asked of it, and the stretch of starts to judge."""
    zone, day = draw(st.sampled_from(NIGHTS))
    begin = wall(zone, day, -draw(st.integers(2, 14)) * 60)
    world = draw(worlds(begin, zone, day))
    ask = replace(draw(asks(begin)), over_by=draw(latest_ends(zone, day)))
    world, ask = draw(assisted(*draw(peopled(world, ask, begin)), begin))
    return draw(with_contents(world, ask, begin)), ask, begin, begin + LENGTH


def wall(zone: ZoneInfo, day: dt.date, minute: int) -> int:
    """Minutes since the epoch when the clocks show so many minutes after the midnight that begins a day."""
    days, rest = divmod(minute, 24 * 60)
    time = dt.time(rest // 60, rest % 60)
    return int(dt.datetime.combine(day + dt.timedelta(days=days), time, zone).timestamp()) // 60


@st.composite
def asks(draw: st.DrawFn, begin: int) -> Ask:
    """A class, or an hour at one torch, at a studio that has what it takes."""
    studio_id = draw(st.sampled_from([1, 1, 1, 2]))
    here = {each.kind for each in THINGS if each.studio_id == studio_id}
    needs = [need for need in NEEDS if here >= {kind for kind, _ in need[0]}]
    stations, kinds = draw(st.sampled_from(needs))
    torch = draw(st.sampled_from([8, 9])) if studio_id == 1 else 22
    only = frozenset({torch}) if stations == ((Kind.TORCH, 1),) else None
    wanted = piece(draw(st.sampled_from([*GLASSES[:2], *GLASSES])), draw(st.sampled_from([6.0, 10.0])))
    footprint = draw(st.sampled_from([30, 60, 60, 90, 110]))
    return Ask(
        title="class",
        studio_id=studio_id,
        teach_min=draw(st.integers(30, 120)),
        setup_min=draw(st.sampled_from([0, 10, 25])),
        cleanup_min=draw(st.sampled_from([0, 15])),
        person_id=draw(st.sampled_from([7, None])),
        stations=stations,
        only=only,
        firings=tuple(fired(kind, wanted, footprint) for kind in kinds),
        notice=draw(st.booleans()),
        glass_kg=draw(st.sampled_from([0.0, 6.0, 12.0, 22.0])),
    )


@st.composite
def worlds(draw: st.DrawFn, begin: int, zone: ZoneInfo, day: dt.date) -> World:
    """Everything that is claimed, and never more of a supply than it gives."""
    town = draw(st.sampled_from([THINGS, TWINS]))
    working = draw(st.sampled_from(HOLES_IN_SERVICE)) | draw(st.sampled_from(OVENS_IN_SERVICE))
    scarce = {Kind.GLORY_HOLE, Kind.ANNEALER}
    on_breakers = draw(st.sampled_from([frozenset(), frozenset({POWER, FAR_POWER})]))
    things = [replace(draw(with_bodies(each, begin)), breakers=on_breakers) for each in town]
    things = [draw(starting_by_itself(each)) if each.kind is Kind.KILN else each for each in things]
    lighting_kwh = draw(st.sampled_from([0.0, 0.0, 5.0, 30.0]))
    things = [replace(a, lighting_kwh=lighting_kwh) if a.kind in HOT else a for a in things]
    things = [replace(a, active=a.id in working) if a.kind in scarce else a for a in things]
    limits = {key: draw(st.sampled_from(limits)) for key, (_, _, limits) in SUPPLIES.items()}
    studios = {key: draw(studio_records(key, zone, day)) for key in (1, 2)}
    ledger = Ledger(studios=studios, limits=limits, first=begin - 2000, last=begin + LENGTH + 4000)
    for apparatus in things:
        draw(claims(ledger, apparatus, begin - 200))
    for supply_id in limits:
        for stretch in draw(stretches(begin, 1)):
            ledger.use(supply_id, stretch, draw(st.sampled_from([1.0, 3.0, 6.0])), None)
    return World(
        now=draw(st.sampled_from([begin + draw(st.integers(0, 300)), *_while_hot(ledger, begin)])),
        horizon=(begin, begin + 2 * LENGTH),
        studios=studios,
        apparatus={each.id: each for each in draw(st.permutations(things))},
        taken=ledger.taken,
        supplies=ledger.supplies(),
        people={7: tuple(draw(engagements(begin)))},
        names={7: "Somebody"},
        travel=draw(st.sampled_from([{(1, 2): 20, (2, 1): 35}, {(1, 2): 50}, {}])),
    )


def _while_hot(ledger: Ledger, begin: int) -> list[int]:
    """Minutes at which a firing is lit, holds, or has just begun its soak: what may join it differs."""
    claims = [(t.span[0], t.firing) for taken in ledger.taken.values() for t in taken if t.firing is not None]
    moments = [
        minute
        for lit, firing in claims
        for minute in (lit, firing.ready, (firing.ready + firing.last_in) // 2, firing.last_in + 10)
    ]
    return [minute for minute in moments if begin <= minute < begin + LENGTH // 2]


@st.composite
def with_bodies(draw: st.DrawFn, apparatus: Apparatus, begin: int) -> Apparatus:
    """What heats has a thermal record, and perhaps another one from some minute on."""
    choice = BODIES.get(apparatus.kind)
    if choice is None:
        return apparatus
    later = draw(st.lists(st.integers(begin, begin + LENGTH), min_size=draw(st.integers(0, 1)), max_size=1))
    bodies = tuple((since, draw(st.sampled_from(choice))) for since in (begin - 5000, *later))
    return replace(apparatus, bodies=bodies)


@st.composite
def starting_by_itself(draw: st.DrawFn, kiln: Apparatus) -> Apparatus:
    """A kiln that may wait before its program starts, or not; heated by gas at times."""
    kiln = replace(kiln, longest_wait_min=draw(st.sampled_from([0, 5, 15, 40])))
    if kiln.studio_id == 1 and draw(st.sampled_from([False, False, True])):
        return replace(kiln, gas_fired=True, draws=((GAS, 4.0),))
    return kiln


@st.composite
def studio_records(draw: st.DrawFn, key: int, zone: ZoneInfo, day: dt.date) -> StudioRecord:
    """Hours by the wall clock for each duty, on every day but when the studio is closed."""
    minutes = Minutes(first=wall(zone, day, -3 * 1440), last=wall(zone, day, 5 * 1440))
    closed = minutes.marked(draw(stretches(wall(zone, day, -600), 1)))
    return StudioRecord(
        id=key,
        name=f"Studio {key}",
        zone=zone,
        fahrenheit=False,
        notice_min=draw(st.sampled_from([0, 0, 90])),
        electric_unattended=draw(st.sampled_from([True, True, False])),
        hold_gap_min=draw(st.sampled_from([0, 30, 60, 300])),
        policy=POLICY,
        staffed={duty: spans_of(minutes, minutes.marked(draw(daily(zone, day))) & ~closed) for duty in Duty},
        over_by=draw(latest_ends(zone, day)),
    )


@st.composite
def latest_ends(draw: st.DrawFn, zone: ZoneInfo, day: dt.date) -> tuple[Stretch, ...]:
    """Mostly none; else each day from midnight to an hour, by the clocks."""
    latest = draw(st.sampled_from([None, None, None, 5 * 60, 14 * 60, 21 * 60 + 30, 24 * 60]))
    if latest is None:
        return ()
    return tuple((wall(zone, day, d * 1440), wall(zone, day, d * 1440 + latest)) for d in range(-3, 5))


@st.composite
def daily(draw: st.DrawFn, zone: ZoneInfo, day: dt.date) -> list[Stretch]:
    """The same hours of each day, by the clocks: day and night, or long ones, that may go past midnight."""
    opens = draw(st.integers(0, 24)) * 30
    closes = opens + draw(st.sampled_from([7, 12, 17, 24, 24])) * 60
    return [(wall(zone, day, d * 1440 + opens), wall(zone, day, d * 1440 + closes)) for d in range(-3, 4)]


def spans_of(minutes: Minutes, flags: Flags) -> tuple[Stretch, ...]:
    """The stretches that are marked, in order and apart."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    found = (minutes.first + int(edge) for edge in edges)
    return tuple(zip(found, found, strict=True))


@st.composite
def stretches(draw: st.DrawFn, begin: int, most: int) -> list[Stretch]:
    """Stretches in order, none before the one before it has ended; they may touch."""
    found: list[Stretch] = []
    reached = begin
    for _ in range(draw(st.integers(0, most))):
        first = reached + draw(st.integers(0, LENGTH // most))
        found.append((first, first + draw(st.integers(5, 300 // most))))
        reached = found[-1][1]
    return found


@st.composite
def engagements(draw: st.DrawFn, begin: int) -> list[Engagement]:
    """What the instructor has promised already, here, at the other studio and in a calendar of their own."""
    studios = st.sampled_from([1, 2, ELSEWHERE])
    return [
        Engagement(span=stretch, studio_id=draw(studios), studio="Studio", what="a class")
        for stretch in draw(stretches(begin, 2))
    ]


@st.composite
def claims(draw: st.DrawFn, ledger: Ledger, apparatus: Apparatus, begin: int) -> None:
    """Sessions, firings and outages of one piece of equipment, in the order of time, as far as they fit."""
    for stretch in draw(stretches(begin, 4 if apparatus.kind in HOT else 3)):
        if draw(st.integers(0, 5)) == 0:
            ledger.outage(apparatus, stretch)
        elif apparatus.kind is Kind.ANNEALER:
            lots = list(draw(loads(stretch)))
            ledger.firing(apparatus, lots, early_min=draw(st.sampled_from([0, 0, 20])))
        else:
            places = 1 if apparatus.kind in HOT else apparatus.places
            kept_hot = apparatus.kind in HOT and draw(st.sampled_from([False, False, True]))
            ledger.session(apparatus, stretch, draw(st.integers(1, places)), kept_hot=kept_hot)


@st.composite
def loads(draw: st.DrawFn, stretch: Stretch) -> Iterator[tuple[Stretch, int, int, float]]:
    """Up to three loads of one firing: their hours, which of two glasses that agree, room and thickness."""
    family = draw(st.sampled_from([(0, 1), (0, 0), (0, 1), (2, 2)]))
    parts = draw(st.integers(1, 3))
    return iter(
        [
            (
                (stretch[0] + 20 * number, stretch[1] + 25 * number),
                draw(st.sampled_from(family)),
                draw(st.sampled_from([10, 20, 30])),
                draw(st.sampled_from([6.0, 12.0])),
            )
            for number in range(parts)
        ]
    )
