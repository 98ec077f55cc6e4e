"""Work that several studios may fire: all of it at one, or parted, where that is better."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused, as_json, from_json
from scheduling.engine.kiln_work.asked import Aim, PieceAsked
from scheduling.engine.kiln_work.routes import ROUTES, RouteName
from scheduling.engine.records import Apparatus, Duty, Taken
from scheduling.engine.spans import Span, union
from tests.engine.kiln_work.exhaustive import NEVER, earliest_parted
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
    taken,
    work,
    world,
)

DAYS = 5

spans = st.tuples(st.integers(0, 3 * DAY), st.integers(60, DAY)).map(lambda t: (t[0], t[0] + t[1]))
kiln_of = st.tuples(
    st.sampled_from([FIBRE, QUICK]), st.sampled_from([1, 2]), st.lists(spans, max_size=1), st.integers(1, 2)
)
# Two kilns, one at each studio, each for one dish of 100 mm.
TWO = (kiln(1), kiln(2, studio_id=2))
EACH = [shelves(1, *SIZES[1]), shelves(2, *SIZES[1])]
AT_ONCE = replace(ROUTES[RouteName.FUSE], first_after_min=0)


def studios_of(plan: WorkPlanned) -> dict[int, set[int]]:
    """Which pieces each studio fires."""
    found: dict[int, set[int]] = {}
    for load in plan.loads:
        found.setdefault(load.studio_id, set()).update(stand.piece for stand in load.stands)
    return found


@small_questions
@given(
    st.lists(kiln_of, min_size=2, max_size=3),
    st.integers(1, 4),
    st.sampled_from([RouteName.FUSE, RouteName.FUSE_SLUMP, RouteName.PAINT]),
    st.integers(7, 12),
    st.integers(3, 10),
)
def test_it_is_the_earliest_of_all(
    shop: list[tuple[object, int, list[Span], int]], pieces: int, route: RouteName, opens: int, staffed: int
) -> None:
    things: list[Apparatus] = [kiln(n, body, studio_id=at) for n, (body, _, _, at) in enumerate(shop, 1)]  # type: ignore[arg-type]
    claims: list[Taken] = [
        taken(n, *span) for n, (_, _, busy, _) in enumerate(shop, 1) for span in union(busy)
    ]
    hours = daily(opens, opens + staffed, DAYS)
    there = world(*things, days=DAYS, taken=claims, hours={Duty.LOAD: hours, Duty.UNLOAD: hours})
    asked = work(
        *[square(100)] * pieces,
        kilns=[shelves(n, *SIZES[holds]) for n, (_, holds, _, _) in enumerate(shop, 1)],
        route=replace(ROUTES[route], first_after_min=0),
        arrives=8 * HOUR,
    )

    found = answer(there, asked)

    best = earliest_parted(there, asked, {n: holds for n, (_, holds, _, _) in enumerate(shop, 1)})
    assert (found.ready if isinstance(found, WorkPlanned) else NEVER) == best
    if isinstance(found, WorkPlanned):
        assert_sound(there, asked, found)


def test_two_kilns_at_two_studios_are_done_in_one_night() -> None:
    shop = world(*TWO, days=8)
    asked = work(*[square(100)] * 2, kilns=EACH, route=AT_ONCE)

    plan = planned(shop, asked)

    assert studios_of(plan) == {1: {0}, 2: {1}}
    assert plan.ready == max(plan.ready_at.values())
    assert plan.proven
    assert from_json(as_json(plan)) == plan


def test_what_is_as_soon_at_one_studio_stays_together() -> None:
    shop = world(*TWO, days=8)
    asked = work(*[square(100)] * 2, kilns=[shelves(1, *SIZES[2]), shelves(2, *SIZES[1])], route=AT_ONCE)

    assert studios_of(planned(shop, asked)) == {1: {0, 1}}


def test_for_the_fewest_visits_it_stays_together() -> None:
    shop = world(*TWO, days=8)
    asked = work(*[square(100)] * 2, kilns=EACH, route=AT_ONCE, aim=Aim.FEWEST_VISITS)

    assert len(studios_of(planned(shop, asked))) == 1


def test_the_cheapest_may_be_parted() -> None:
    """The small kiln costs less by the hour than the large one, which one of the dishes needs."""
    shop = world(kiln(1), kiln(2, studio_id=2), days=20)
    kilns = [shelves(1, 320, 320, hour_price=9.0), shelves(2, *SIZES[2], hour_price=1.0)]
    asked = work(square(300), square(100), square(100), kilns=kilns, route=AT_ONCE, aim=Aim.CHEAPEST)

    plan = planned(shop, asked)

    assert studios_of(plan) == {1: {0}, 2: {1, 2}}


@pytest.mark.parametrize("aim", Aim)
def test_each_piece_goes_where_its_mould_is(aim: Aim) -> None:
    here, there = mould(1, 110, count=1), mould(2, 110, count=1)
    pieces = [
        PieceAsked(footprint=square(100).footprint, mould=form, studio_id=at)
        for form, at in ((here, 1), (there, 2), (here, 1))
    ]
    shop = world(*TWO, days=20)
    asked = work(*pieces, kilns=EACH, route=ROUTES[RouteName.FUSE_SLUMP], aim=aim)

    assert studios_of(planned(shop, asked)) == {1: {0, 2}, 2: {1}}


def test_no_piece_goes_where_no_shelf_is_large_enough() -> None:
    shop = world(*TWO, days=20)
    asked = work(square(220), square(100), kilns=[shelves(1, 242, 242), shelves(2, *SIZES[1])], route=AT_ONCE)

    plan = planned(shop, asked)

    assert 0 in studios_of(plan)[1]


def test_a_piece_that_lies_where_no_kiln_takes_it_is_refused() -> None:
    lying = replace(square(220), studio_id=2)
    found = answer(
        world(*TWO, days=20),
        work(lying, square(100), kilns=[shelves(1, 242, 242), shelves(2, *SIZES[1])], route=AT_ONCE),
    )

    assert isinstance(found, WorkRefused)
    assert found.code == "piece-too-large"
    assert "220" in found.sentence


def test_cold_work_goes_where_there_is_a_station() -> None:
    shop = world(*TWO, cold_station(9, studio_id=2), days=20)
    asked = work(*[square(100)] * 2, kilns=EACH, route=AT_ONCE, cold_min_each=20)

    plan = planned(shop, asked)

    assert studios_of(plan) == {2: {0, 1}}
    assert sorted(piece for each in plan.handwork for piece in each.of) == [0, 1]
