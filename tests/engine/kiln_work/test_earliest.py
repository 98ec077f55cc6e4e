"""On what is small enough to be gone through, the earliest plan is the earliest of all."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.records import Apparatus, Duty, Taken
from scheduling.engine.spans import Span, union
from tests.engine.kiln_work.exhaustive import NEVER, earliest
from tests.engine.kiln_work.small import SIZES, small_questions
from tests.engine.kiln_work.workshop import (
    DAY,
    FIBRE,
    HOUR,
    QUICK,
    daily,
    kiln,
    shelves,
    square,
    taken,
    work,
    world,
)

DAYS = 5

spans = st.tuples(st.integers(0, 3 * DAY), st.integers(60, DAY)).map(lambda t: (t[0], t[0] + t[1]))
kiln_of = st.tuples(st.sampled_from([FIBRE, QUICK]), st.sampled_from([1, 2]), st.lists(spans, max_size=2))


@small_questions
@given(
    st.lists(kiln_of, min_size=1, max_size=2),
    st.integers(1, 4),
    st.sampled_from([RouteName.FUSE, RouteName.FUSE_SLUMP, RouteName.PAINT]),
    st.integers(7, 12),
    st.integers(3, 10),
)
def test_it_is_the_earliest_of_all(
    shop: list[tuple[object, int, list[Span]]], pieces: int, route: RouteName, opens: int, staffed: int
) -> None:
    things: list[Apparatus] = [kiln(n, body) for n, (body, _, _) in enumerate(shop, 1)]  # type: ignore[arg-type]
    claims: list[Taken] = [taken(n, *span) for n, (*_, busy) in enumerate(shop, 1) for span in union(busy)]
    hours = daily(opens, opens + staffed, DAYS)
    place = world(*things, days=DAYS, taken=claims, hours={Duty.LOAD: hours, Duty.UNLOAD: hours})
    asked = work(
        *[square(100)] * pieces,
        kilns=[shelves(n, *SIZES[holds]) for n, (_, holds, _) in enumerate(shop, 1)],
        route=replace(ROUTES[route], first_after_min=0),
        arrives=8 * HOUR,
    )

    found = answer(place, asked)

    best = earliest(place, asked, {n: holds for n, (_, holds, _) in enumerate(shop, 1)})
    assert (found.ready if isinstance(found, WorkPlanned) else NEVER) == best


def test_what_comes_out_first_may_go_on_before_others_have_begun() -> None:
    """The only kiln fires one piece at a time, and is free late: only so are all of them through in time."""
    busy = [taken(1, 2801, 3577), taken(1, 2283, 2801)]
    hours = daily(8, 15, DAYS)
    shop = world(kiln(1, QUICK), days=DAYS, taken=busy, hours={Duty.LOAD: hours, Duty.UNLOAD: hours})
    asked = work(
        *[square(100)] * 2,
        kilns=[shelves(1, *SIZES[1])],
        route=replace(ROUTES[RouteName.FUSE_SLUMP], first_after_min=0),
        arrives=8 * HOUR,
    )

    found = answer(shop, asked)

    assert isinstance(found, WorkPlanned)
    assert found.ready == earliest(shop, asked, {1: 1})
    assert [load.step for load in found.loads] == [1, 2, 1, 2]


def test_a_kiln_may_be_left_half_empty_so_that_another_goes_on_sooner() -> None:
    """The slow one holds both dishes; but the quick one has fused one of them by then, and slumps it, too."""
    hours = daily(7, 15, DAYS)
    shop = world(kiln(1, FIBRE), kiln(2, QUICK), days=DAYS, hours={Duty.LOAD: hours, Duty.UNLOAD: hours})
    asked = work(
        *[square(100)] * 2,
        kilns=[shelves(1, *SIZES[2]), shelves(2, *SIZES[1])],
        route=replace(ROUTES[RouteName.FUSE_SLUMP], first_after_min=0),
        arrives=8 * HOUR,
    )

    found = answer(shop, asked)

    assert isinstance(found, WorkPlanned)
    assert found.ready == earliest(shop, asked, {1: 2, 2: 1})
    assert len([load for load in found.loads if load.step == 1]) == 2


@pytest.mark.parametrize(("pieces", "kilns", "day"), [(1, 1, 1), (2, 1, 2), (2, 2, 1), (3, 2, 2)])
def test_more_kilns_or_fewer_pieces_are_ready_sooner(pieces: int, kilns: int, day: int) -> None:
    """A brick kiln that is loaded by day is unloaded on the morning after."""
    shop = world(*(kiln(number) for number in range(1, kilns + 1)), days=8)
    asked = work(
        *[square(100)] * pieces,
        kilns=[shelves(number, *SIZES[1]) for number in range(1, kilns + 1)],
        route=replace(ROUTES[RouteName.FUSE], first_after_min=0),
        arrives=DAY + 9 * HOUR,
    )

    found = answer(shop, asked)

    assert isinstance(found, WorkPlanned)
    assert found.ready == (1 + day) * DAY + 9 * HOUR + 20
    assert found.proven
