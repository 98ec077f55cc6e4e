"""A glory hole is kept hot between two classes where that takes less than lighting and heating it again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import pytest

from scheduling.engine.heat import relit
from scheduling.engine.kept_hot import worth_keeping
from scheduling.engine.records import (
    Apparatus,
    Duty,
    Held,
    Kind,
    Placement,
    Store,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.search import place
from scheduling.engine.world import World
from studios.thermal import Phase, energy_kwh, heat_up_curve, holding_kwh
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.small import END, an_hour, both_find, world_of
from tests.engine.reference.town import GAS, HOLES, thing

BODY, WORKING_C = HOLES[0], 1100.0
AT_A_HOLE = an_hour((Kind.GLORY_HOLE, 1))
# An earlier class works until 300, and the next comes 20 minutes later.
ENDED, START = 300, 320


def hole(lighting_kwh: float = 10.0) -> Apparatus:
    return thing(
        2,
        Kind.GLORY_HOLE,
        (GAS, 7.0),
        bodies=((0, BODY),),
        gas_fired=True,
        working_c=WORKING_C,
        lighting_kwh=lighting_kwh,
    )


def bench() -> Apparatus:
    return thing(3, Kind.BENCH, station_id=2)


def session(lit: int, works: int, until: int, key: int = 5) -> Taken:
    return Taken(
        apparatus_id=2,
        place=1,
        span=(lit, until),
        core=(works, until),
        held_by=f"class {key}",
        occupancy_id=key,
    )


EARLIER = session(220, 240, ENDED)


def use(begin: int, end: int, amount: float = 7.0, key: int | None = None) -> Use:
    return Use(span=(begin, end), amount=amount, held_by="another", occupancy_id=key)


def world(
    *uses: Use,
    taken: Iterable[Taken] = (EARLIER,),
    lighting_kwh: float = 10.0,
    limit: float = 7.0,
    hours: Mapping[Duty, tuple[Stretch, ...]] | None = None,
) -> World:
    gas = SupplyRecord(id=GAS, name="Gas", unit="kW", limit=limit, uses=uses)
    return world_of([hole(lighting_kwh), bench()], taken=taken, supplies=[gas], hours=hours)


def placed(world: World, start: int = START) -> Placement:
    answer = place(world, AT_A_HOLE, start)
    assert isinstance(answer, Placement)
    return answer


def at_the_hole(world: World, start: int = START) -> Held:
    return next(held for held in placed(world, start).held if held.apparatus_id == 2)


def is_kept(held: Held) -> bool:
    return held.phases[0].kind is Phase.HOLDING and held.exclusive[0] == ENDED


def test_lighting_costs_enough_to_keep_it_hot() -> None:
    held = at_the_hole(world())

    assert held.exclusive == (ENDED, START + 60)
    assert (held.phases[0].kind, held.phases[0].span) == (Phase.HOLDING, (ENDED, START))
    assert held.phases[0].from_c == held.phases[0].to_c == WORKING_C
    assert [each.span for _, each in held.draws] == [(ENDED, START + 60)]


def test_its_bench_goes_with_it_from_then_on() -> None:
    parts = {held.apparatus_id: held for held in placed(world()).held}

    assert parts[3].span[0] == ENDED
    assert parts[3].exclusive[0] == START


def test_who_books_it_is_told() -> None:
    (note,) = placed(world()).notes

    assert note.startswith("glory-hole 2 is kept hot from Thu 1 Jan 05:00 on: that takes less than")


def test_where_lighting_costs_nothing_it_cools_and_is_heated_again() -> None:
    held = at_the_hole(world(lighting_kwh=0.0))

    assert not is_kept(held)
    assert held.exclusive[0] > ENDED


def test_the_cheaper_of_the_two_is_chosen() -> None:
    """What it takes to hold at 1100 °C for 20 minutes, against heating up from where it has cooled to."""
    lead = START - at_the_hole(world(lighting_kwh=0.0)).exclusive[0]
    cooled_c = BODY.cooled_c(WORKING_C, START - ENDED - lead)
    heating = energy_kwh(heat_up_curve(BODY, from_c=cooled_c, to_c=WORKING_C), BODY)
    more_kwh = holding_kwh(BODY, WORKING_C, START - ENDED) - heating

    assert more_kwh > 0
    assert is_kept(at_the_hole(world(lighting_kwh=more_kwh + 0.01)))
    assert not is_kept(at_the_hole(world(lighting_kwh=more_kwh - 0.01)))


def test_the_longer_the_gap_the_more_lighting_must_cost() -> None:
    apparatus = hole(8.0)

    kept = [worth_keeping(apparatus, gap, 1000) for gap in range(1, 200)]

    assert kept[0]
    assert not kept[-1]
    assert kept == sorted(kept, reverse=True)


def test_nobody_there_to_mind_it_lets_it_cool() -> None:
    minded = {Duty.LIGHT: ((0, ENDED), (ENDED + 1, END))}

    assert not is_kept(at_the_hole(world(hours=minded)))


def test_a_gas_line_that_gives_less_in_the_gap_lets_it_cool() -> None:
    assert not is_kept(at_the_hole(world(use(ENDED, ENDED + 2, 3.0))))


def test_cylinders_that_would_run_dry_let_it_cool() -> None:
    full = Store(name="Gas", unit="kWh", full=100.0, floor=0.0, per_min=1 / 60, refills=((0, 100.0),))
    just_enough = replace(full, refills=((0, 7.0 * 79 / 60),))

    assert is_kept(at_the_hole(replace(world(), stores={GAS: full})))
    assert not is_kept(at_the_hole(replace(world(), stores={GAS: just_enough})))


def test_what_has_begun_to_cool_is_not_held_in_the_past() -> None:
    assert not is_kept(at_the_hole(replace(world(), now=ENDED + 1)))
    assert is_kept(at_the_hole(replace(world(), now=ENDED)))


def test_an_outage_lets_it_cool() -> None:
    outage = Taken(apparatus_id=2, place=0, span=(290, 301), core=(290, 301), held_by="repair", outage=True)

    held = at_the_hole(world(taken=[session(200, 220, 280), outage]), 400)

    assert held.phases[0].kind is Phase.HEAT_UP


# A class from 500 to 560 is kept hot for since the earlier one ended.
FOLLOWING = session(ENDED, 500, 560, key=6)


def between(*uses: Use, following: Taken = FOLLOWING, limit: float = 7.0) -> World:
    draws = (use(220, ENDED, key=5), use(following.span[0], 560, key=6), *uses)
    return world(*draws, taken=[EARLIER, following], lighting_kwh=20.0, limit=limit)


def test_what_follows_stays_hot_in_the_hours_that_it_holds() -> None:
    assert placed(between(), 420).kept_hot == {6}


def test_what_follows_and_is_heated_up_is_never_kept_hot_for_longer() -> None:
    assert placed(between(following=session(485, 500, 560, key=6)), 420).kept_hot == frozenset()


def test_what_follows_is_heated_again_where_cylinders_would_not_last_for_a_hold() -> None:
    """A torch of the class takes just what the hole saves while it cools before what follows."""
    ask = replace(AT_A_HOLE, stations=((Kind.GLORY_HOLE, 1), (Kind.TORCH, 1)))
    now = between(limit=40.0)
    heated = place(now, AT_A_HOLE, 420, keep_hot=False)
    assert isinstance(heated, Placement)
    own = next(held for held in heated.held if held.apparatus_id == 2)
    ((_, lit_again),) = relit(now, [own], (420, 480))[1]
    assert lit_again.span[0] > 480
    saved_min = (560 - ENDED) - (480 - own.exclusive[0]) - (560 - lit_again.span[0])
    torch = thing(8, Kind.TORCH, (GAS, saved_min * 7.0 / 60))
    now = replace(now, apparatus={**now.apparatus, 8: torch})

    def kept(content: float) -> frozenset[int]:
        uses = now.supplies[GAS].draws
        store = Store(
            name="Gas", unit="kWh", full=900.0, floor=0.0, per_min=1 / 60, refills=((0, content),), uses=uses
        )
        answer = place(replace(now, stores={GAS: store}), ask, 420)
        assert isinstance(answer, Placement)
        return answer.kept_hot

    booked = (560 - 220) * 7.0 / 60
    assert (kept(booked), kept(2 * booked)) == (frozenset(), frozenset({6}))


@pytest.mark.parametrize("lighting_kwh", [0.0, 20.0])
def test_the_starts_are_those_of_the_slow_judge_whatever_lighting_costs(lighting_kwh: float) -> None:
    draws = (use(220, ENDED, key=5), use(ENDED, 560, key=6), use(600, 700, 3.0))
    lit = world(*draws, taken=[EARLIER, FOLLOWING], lighting_kwh=lighting_kwh)

    space, judged = both_find(lit, AT_A_HOLE)

    assert space == judged == {s for s in range(1000) if isinstance(place(lit, AT_A_HOLE, s), Placement)}
    assert judged
