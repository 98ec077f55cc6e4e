"""Worlds whose supplies come in cylinders and tanks, and whose furnaces have pots that are charged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hypothesis import strategies as st

from scheduling.engine.records import Apparatus, Ask, ChargePlan, Kind, PotRecord, Store, Taken, Use
from scheduling.engine.world import World
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.town import FAR_OXYGEN, FAR_POWER, GAS, OXYGEN, POWER

LENGTH = 1300
# What one unit of draw takes in a minute: litres of oxygen, kWh of gas or of a generator's tank.
PER_MIN = {OXYGEN: 1.0, FAR_OXYGEN: 1.0, GAS: 1 / 60, POWER: 1 / 60, FAR_POWER: 1 / 60}
# Mostly one furnace: what goes wrong in it is hidden by another.
IDLE_FURNACES = ({17}, {17}, {1}, ())
# What is left over, in classes like the one asked for: too little already, nothing, just about one, plenty.
SPARE = (-0.2, -0.1, 0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 1.0, 1.0, 1.1, 1.3, 1.7, 2.0, 100.0)


@st.composite
def with_contents(draw: st.DrawFn, world: World, ask: Ask, begin: int) -> World:
    """The same world, with what is left of some supplies that this ask draws on, and of the glass."""
    idle = draw(st.sampled_from(IDLE_FURNACES))
    apparatus = {key: replace(a, active=a.active and key not in idle) for key, a in world.apparatus.items()}
    world = replace(world, apparatus=apparatus)
    stores = {
        key: draw(cylinders(world, key, begin, size))
        for key, size in sorted(sizes(world, ask).items())
        if draw(st.sampled_from([True, True, False]))
    }
    world = replace(world, stores=stores)
    for furnace in [each for each in world.apparatus.values() if each.kind is Kind.FURNACE]:
        if draw(st.sampled_from([True, True, False])):
            world = draw(with_pot(world, furnace, begin, ask.glass_kg or 10.0))
    return world


def sizes(world: World, ask: Ask) -> dict[int, float]:
    """What a class takes from each supply that may come in cylinders, or in a tank: no electricity does."""
    metered = {key for each in world.apparatus.values() for key in each.breakers}
    hours = {kind: ask.teach_min + 40 for kind, _ in ask.stations} | dict.fromkeys(
        (need.kind for need in ask.firings), 240
    )
    found: dict[int, float] = {}
    for each in world.apparatus.values():
        if each.active and each.studio_id == ask.studio_id and each.kind in hours:
            for key, amount in each.draws:
                if key in PER_MIN and key not in metered:
                    found[key] = max(found.get(key, 0.0), amount * hours[each.kind])
    return found


@st.composite
def cylinders(draw: st.DrawFn, world: World, key: int, begin: int, size: float) -> Store:
    """Filled one to three times, somewhat more or less than what is booked until the next time."""
    per_min, uses = PER_MIN[key], world.supplies[key].uses
    floor = round(size * draw(st.sampled_from([0.0, 0.0, 0.3]))) * per_min
    refills = draw(contents(uses, draw(minutes_filled(begin)), floor, size, per_min))
    most = max(content for _, content in refills)
    full = draw(st.sampled_from([most, most, floor + size * per_min, floor + 1.6 * size * per_min]))
    return Store(
        name="content",
        unit="",
        full=max(full, floor + per_min),
        floor=floor,
        per_min=per_min,
        refills=tuple((minute, min(full, content)) for minute, content in refills),
        uses=uses,
        change_over=draw(st.sampled_from([True, True, False])),
    )


@st.composite
def minutes_filled(draw: st.DrawFn, begin: int) -> list[int]:
    """Known long since or only lately, and filled anew at most twice."""
    known = draw(st.sampled_from([begin - 2500, begin - 2500, begin + 100]))
    later = draw(st.lists(st.integers(begin - 200, begin + LENGTH + 600), max_size=2))
    return sorted({known, *later})


@st.composite
def contents(
    draw: st.DrawFn, uses: Sequence[Use], filled: list[int], floor: float, size: float, per_min: float
) -> tuple[tuple[int, float], ...]:
    """Minutes and contents: what is booked until the next of them, the floor, and something to spare."""
    ends = [*filled[1:], filled[-1] + 9 * LENGTH]
    booked = [taken(uses, span) for span in zip(filled, ends, strict=True)]
    spare = [round(size * draw(st.sampled_from(SPARE))) for _ in filled]
    return tuple(
        (minute, max(0.0, floor + (so_much + more) * per_min))
        for minute, so_much, more in zip(filled, booked, spare, strict=True)
    )


def taken(uses: Sequence[Use], within: Stretch) -> float:
    """What is drawn within a stretch, minute by minute."""
    return sum(
        use.amount * len(range(max(use.span[0], within[0]), min(use.span[1], within[1]))) for use in uses
    )


@st.composite
def with_pot(draw: st.DrawFn, world: World, furnace: Apparatus, begin: int, size: float) -> World:
    """A furnace whose classes draw glass, and that is charged where it stands free."""
    plan = draw(plans())
    claims = tuple(world.taken[furnace.id])
    start = begin + draw(st.integers(-200, LENGTH))
    span = (start, start + plan.total_min)
    charged = draw(st.booleans()) and all(t.span[1] <= span[0] or span[1] <= t.span[0] for t in claims)
    uses = tuple(
        Use(span=(t.core[1] - 1, t.core[1]), amount=draw(st.sampled_from([0.0, 3.0, 10.0])), held_by="other")
        for t in claims
        if not t.outage
    )
    floor = draw(st.sampled_from([0.0, 10.0]))
    filled = sorted({*draw(minutes_filled(begin)), *([span[1]] if charged else [])})
    full = floor + round(size * draw(st.sampled_from([1.0, 1.5, 4.0])))
    refills = draw(contents(uses, filled, floor, size, 1.0))
    store = Store(
        name="pot",
        unit="kg",
        full=full,
        floor=floor,
        per_min=1.0,
        refills=tuple((minute, min(full, content)) for minute, content in refills),
        uses=uses,
    )
    more = charge_of(furnace, span) if charged else ()
    return replace(
        world,
        taken={**world.taken, furnace.id: (*claims, *more)},
        pots={**world.pots, furnace.id: PotRecord(store=store, plan=plan)},
    )


@st.composite
def plans(draw: st.DrawFn) -> ChargePlan:
    """A charge of an hour or of several, charged up to three times."""
    return ChargePlan(
        turn_up_min=draw(st.sampled_from([0, 20, 60])),
        charges=draw(st.integers(1, 3)),
        charge_min=draw(st.sampled_from([1, 10, 25])),
        gap_min=draw(st.sampled_from([0, 15, 60])),
        fining_min=draw(st.sampled_from([0, 90])),
        coming_down_min=draw(st.sampled_from([0, 30])),
        charging_c=1250.0,
    )


def charge_of(furnace: Apparatus, span: Stretch) -> tuple[Taken, ...]:
    """A charge that is booked: every place of the furnace."""
    return tuple(
        Taken(apparatus_id=furnace.id, place=place, span=span, core=span, held_by="a charge")
        for place in range(1, furnace.places + 1)
    )
