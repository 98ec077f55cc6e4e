"""Work that has begun: some pieces are fired, or lie in a kiln; what is left is planned like any work."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused, as_json, from_json
from scheduling.engine.kiln_work.asked import Aim, HandDone
from scheduling.engine.kiln_work.routes import ROUTES, WASH, Handwork, RouteName
from scheduling.engine.records import Duty
from tests.engine.kiln_work.exhaustive import NEVER, earliest
from tests.engine.kiln_work.small import SIZES, planned, small_questions
from tests.engine.kiln_work.sound import assert_sound
from tests.engine.kiln_work.workshop import (
    DAY,
    FIBRE,
    HOUR,
    QUICK,
    cold_station,
    daily,
    kiln,
    mould,
    shelves,
    square,
    work,
    world,
)

DAYS = 6
ROUTE = replace(ROUTES[RouteName.FUSE_SLUMP], first_after_min=0)
# Washed when somebody comes, at nine.
DRY = 9 * HOUR + WASH.minutes + WASH.dry_min
WASHED = HandDone(does=Handwork.WASH_SHELVES, studio_id=1, kiln_id=1, dry=0, until=6 * DAY)


def one_kiln(holds: int = 2, **facts: Any) -> Any:
    return {"kilns": [shelves(1, *SIZES[holds])], "route": ROUTE, **facts}


@small_questions
@given(
    st.lists(st.tuples(st.sampled_from([FIBRE, QUICK]), st.sampled_from([1, 2])), min_size=1, max_size=2),
    st.lists(st.tuples(st.integers(0, 2 * DAY), st.integers(0, 1)), min_size=1, max_size=4),
    st.integers(7, 12),
    st.integers(3, 10),
)
def test_what_is_left_is_ready_as_early_as_can_be(
    shop: list[tuple[Any, int]], pieces: list[tuple[int, int]], opens: int, staffed: int
) -> None:
    """Each piece is free at another time, and has one firing before it, or two."""
    hours = daily(opens, opens + staffed, DAYS)
    things = [kiln(n, body) for n, (body, _) in enumerate(shop, 1)]
    there = world(*things, days=DAYS, hours={Duty.LOAD: hours, Duty.UNLOAD: hours})
    asked = work(
        *(replace(square(100), free=free, first=first) for free, first in pieces),
        kilns=[shelves(n, *SIZES[holds]) for n, (_, holds) in enumerate(shop, 1)],
        route=ROUTE,
        arrives=0,
    )

    found = answer(there, asked)

    best = earliest(there, asked, {n: holds for n, (_, holds) in enumerate(shop, 1)})
    assert (found.ready if isinstance(found, WorkPlanned) else NEVER) == best
    if isinstance(found, WorkPlanned):
        assert_sound(there, asked, found)


@pytest.mark.parametrize("aim", Aim)
def test_what_is_fused_is_only_slumped(aim: Aim) -> None:
    fused = [replace(square(100, mould(1, 110, count=4)), first=1, free=3 * DAY) for _ in range(2)]

    plan = planned(world(kiln(1), days=12), work(*fused, **one_kiln(aim=aim)))

    assert {load.step for load in plan.loads} == {2}
    assert min(load.begins for load in plan.loads) >= 3 * DAY


def test_what_lies_in_a_kiln_waits_and_others_need_not() -> None:
    lying = replace(square(100), first=1, free=4 * DAY)

    plan = planned(world(kiln(1), days=12), work(lying, square(100), **one_kiln(1)))

    first = plan.loads[0]
    assert (first.step, [stand.piece for stand in first.stands]) == (1, [1])
    assert first.begins < 4 * DAY


def test_what_is_not_worked_yet_goes_to_the_cold_station_first() -> None:
    fused = [replace(square(100), first=1, free=2 * DAY + n * HOUR, unworked=n < 2) for n in range(3)]
    shop = world(kiln(1), kiln(2), cold_station(), days=12)
    asked = work(*fused, cold_min_each=30, kilns=[shelves(1, *SIZES[2]), shelves(2, *SIZES[2])], route=ROUTE)

    plan = planned(shop, asked)

    (worked,) = (each for each in plan.handwork if each.does is Handwork.COLD_WORK)
    assert (worked.load, worked.of, worked.pieces) == ("", (0, 1), 2)
    assert from_json(as_json(plan)) == plan


def test_where_only_cold_work_is_left_no_kiln_is_asked() -> None:
    fused = [replace(square(100), first=1, free=2 * DAY, studio_id=1, unworked=True) for _ in range(2)]
    shop = world(kiln(1), cold_station(), days=12)

    plan = planned(shop, work(*fused, **one_kiln(route=ROUTES[RouteName.FUSE], cold_min_each=30)))

    assert plan.loads == ()
    assert plan.ready == plan.handwork[0].span[1] == 2 * DAY + 9 * HOUR + 60
    assert plan.cost == 0.0


def test_what_is_through_is_left_out_and_where_all_is_nothing_is_left() -> None:
    through = replace(square(100), first=2)
    shop = world(kiln(1), days=12)

    plan = planned(shop, work(through, square(100), **one_kiln()))
    found = answer(shop, work(through, **one_kiln()))

    assert {stand.piece for load in plan.loads for stand in load.stands} == {1}
    assert plan.cost_of[0] == 0.0
    assert isinstance(found, WorkRefused)
    assert found.code == "nothing-left"


def test_shelves_that_are_washed_are_loaded_at_once_and_only_once() -> None:
    """It dries until the evening; what was washed for a load that did not come about is good still."""
    shop = world(kiln(1), days=12)
    asked = work(*[square(100)] * 2, **one_kiln(1, route=replace(ROUTES[RouteName.FUSE], first_after_min=0)))

    plain, spared = planned(shop, asked), planned(shop, replace(asked, done=(WASHED,)))

    assert plain.loads[0].begins == DRY
    assert spared.loads[0].begins == 9 * HOUR
    assert [work.load for work in spared.handwork] == [spared.loads[1].key]


def test_shelves_of_another_kiln_are_no_help() -> None:
    shop = world(kiln(1), days=12)
    asked = work(square(100), **one_kiln(route=replace(ROUTES[RouteName.FUSE], first_after_min=0)))

    plan = planned(shop, replace(asked, done=(replace(WASHED, kiln_id=2),)))

    assert plan.loads[0].begins == DRY
