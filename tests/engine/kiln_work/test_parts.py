"""The parts of which an answer is made, each held against going through every minute or every piece."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.kiln_work.answer import answer
from scheduling.engine.kiln_work.answers import WorkPlanned
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.handwork import after_handwork, cold_parts, latest_before
from scheduling.engine.kiln_work.kilns import KilnRun, usable
from scheduling.engine.kiln_work.routes import ROUTES, Before, Handwork, RouteName
from scheduling.engine.kiln_work.turns import next_turn, turns
from scheduling.engine.kiln_work.waits import by_wait
from scheduling.engine.records import Duty
from scheduling.engine.spans import Span, union
from scheduling.engine.world import World
from studios.thermal import Body
from tests.engine.kiln_work.sound import assert_sound
from tests.engine.kiln_work.workshop import (
    BRICK,
    DAY,
    FIBRE,
    HOUR,
    KILNS,
    QUICK,
    cold_station,
    daily,
    disc,
    kiln,
    mould,
    shelves,
    square,
    taken,
    work,
    world,
)

LONG = 3000
spans = st.tuples(st.integers(0, LONG), st.integers(1, 700)).map(lambda t: (t[0], t[0] + t[1]))
hours = st.lists(spans, max_size=4).map(union)
SOON = Before(does=Handwork.PREPARE_MOULDS, minutes=20, dry_min=90, within_min=400)


def planned(shop: World, asked: WorkAsked) -> WorkPlanned:
    found = answer(shop, asked)
    assert isinstance(found, WorkPlanned), found
    return found


def minutes(found: tuple[Span, ...]) -> set[int]:
    return {minute for span in found for minute in range(*span)}


def done_in_time(need: Before, begin: int, staffed: tuple[Span, ...]) -> set[int]:
    """Every minute at which it can begin to be done for a load."""
    begins = {m for a, b in staffed for m in range(a, b - need.minutes + 1)}
    return {m for m in begins if need.dry_min <= begin - m - need.minutes <= need.within_min}


class TestHandwork:
    @settings(max_examples=60, deadline=None)
    @given(hours, hours)
    def test_loading_begins_when_it_can_have_been_done(
        self, begins: tuple[Span, ...], staffed: tuple[Span, ...]
    ) -> None:
        found = after_handwork(begins, [SOON], staffed)

        assert minutes(found) == {m for m in minutes(begins) if done_in_time(SOON, m, staffed)}

    @settings(max_examples=60, deadline=None)
    @given(hours, st.integers(0, LONG), st.integers(0, LONG), hours)
    def test_it_is_done_as_late_as_may_be_on_a_day_with_a_visit_if_it_can(
        self, staffed: tuple[Span, ...], begin: int, since: int, visited: tuple[Span, ...]
    ) -> None:
        found = latest_before(SOON, begin, staffed, since=since, visited=visited)

        every = {m for m in done_in_time(SOON, begin, staffed) if m >= since}
        rather = {m for m in every if any(a <= m and m + SOON.minutes <= b for a, b in visited)}
        best = max(rather or every, default=None)
        assert found == (None if best is None else (best, best + SOON.minutes))

    def test_cold_work_of_many_pieces_is_done_in_parts(self) -> None:
        assert cold_parts(range(10), 60) == [(0, 1, 2, 3), (4, 5, 6, 7), (8, 9)]
        assert cold_parts(range(2), 400) == [(0,), (1,)]

    def test_it_is_worked_before_it_is_slumped(self) -> None:
        shop = world(kiln(1), cold_station(), days=12)
        asked = work(
            *[square(100)] * 4,
            kilns=[shelves(1, 300, 300)],
            route=ROUTES[RouteName.FUSE_SLUMP],
            cold_min_each=45,
        )

        plan = planned(shop, asked)

        fuse, slump = plan.loads
        (cold,) = (each for each in plan.handwork if each.does is Handwork.COLD_WORK)
        assert fuse.done <= cold.span[0]
        assert cold.span[1] <= slump.begins
        assert (cold.pieces, cold.span[1] - cold.span[0], cold.station_id) == (4, 180, 9)

    def test_after_the_last_firing_cold_work_makes_it_ready(self) -> None:
        shop = world(kiln(1), cold_station(), days=12)

        plan = planned(shop, work(square(100), kilns=[shelves(1, 300, 300)], cold_min_each=45))

        # Five minutes before it, and ten after it, the station is taken, too.
        assert plan.ready == plan.loads[0].done + 5 + 45
        assert plan.proven is (plan.bound == plan.ready)


def run_of(shop: World, kiln_id: int = 1) -> KilnRun:
    asked = work(square(100), kilns=[shelves(kiln_id, 300, 300)], route=ROUTES[RouteName.PAINT], arrives=0)
    (run,) = usable(shop, asked).of(kiln_id, 0)
    return run


class TestTurns:
    @pytest.mark.parametrize("body", [QUICK, FIBRE, BRICK])
    def test_the_hours_a_kiln_waits_to_be_unloaded(self, body: Body) -> None:
        shop = world(kiln(1, body), days=6, hours={Duty.UNLOAD: ((600, 900), (2000, 2010), (2900, 4000))})
        run = run_of(shop)

        found = by_wait(run, run.begins)

        told = {minute: wait for wait, spans in found for minute in minutes(spans)}
        waits = {m: (run.done(m) or 0) - 20 - m - run.cools_after for m in minutes(run.begins) if run.done(m)}
        assert told.keys() == waits.keys()
        assert all(abs(told[m] - waits[m]) <= HOUR for m in waits)
        assert all(told[m] == 0 for m in waits if waits[m] == 0)

    def test_turn_after_turn_each_as_soon_as_it_can(self) -> None:
        """From the third morning until the fourth evening the kiln is somebody else's."""
        shop = world(kiln(1), days=9, taken=[taken(1, 2 * DAY + 10 * HOUR, 3 * DAY + 20 * HOUR)])

        found = list(turns([run_of(shop)], 0))

        assert [done // DAY for done in found[:4]] == [1, 2, 4, 5]
        assert all(done % DAY >= 9 * HOUR + 20 for done in found)

    def test_what_is_busy_is_left_out(self) -> None:
        run = run_of(world(kiln(1, QUICK), days=4))
        first = next_turn([run], 0)
        assert first is not None

        assert next_turn([run], 0, [first]) == next_turn([run], first[1])


class TestShelves:
    def test_what_fits_one_kiln_alone_goes_there_and_the_small_ones_where_there_is_room(self) -> None:
        shop = world(kiln(1, BRICK), kiln(2, BRICK), days=10)
        asked = work(square(400), *[square(130)] * 4, kilns=[shelves(1, 450, 450), shelves(2, 300, 300)])

        plan = planned(shop, asked)

        where = {stand.piece: load.kiln_id for load in plan.loads for stand in load.stands}
        assert where == {0: 1, 1: 2, 2: 2, 3: 2, 4: 2}
        assert plan.ready == planned(shop, work(square(400), kilns=asked.kilns)).ready

    def test_shelves_stand_on_posts_for_fusing_and_not_for_slumping(self) -> None:
        shop = world(kiln(1, BRICK), days=12)
        asked = work(*[square(250)] * 3, kilns=[shelves(1, 300, 300, 3)], route=ROUTES[RouteName.FUSE_SLUMP])

        plan = planned(shop, asked)

        assert [(load.step, len(load.fill)) for load in plan.loads] == [(1, 3), (2, 1), (2, 1), (2, 1)]
        assert (plan.shelves, plan.shelves_bound) == (6, 6)

    def test_pieces_that_share_a_mould_stand_where_it_stands(self) -> None:
        pair = mould(5, 250, count=1, holds=2)
        asked = work(
            *[square(100, pair)] * 2, kilns=[shelves(1, 300, 300)], route=ROUTES[RouteName.FUSE_SLUMP]
        )

        plan = planned(world(kiln(1), days=12), asked)

        one, other = plan.loads[1].stands
        assert (one.x_mm, one.y_mm, one.length_mm) == (other.x_mm, other.y_mm, 250)
        assert plan.loads[1].fill[0] == pytest.approx(250 * 250 / 280**2)

    def test_two_loads_get_along_with_the_moulds_that_others_leave(self) -> None:
        """Each alone would find moulds enough, and both a kiln; but not both at once."""
        held = ((0, 12 * DAY), 2)
        dish = mould(5, 120, count=4, held=(held,))
        shop = world(kiln(1), kiln(2), days=30)
        two = [shelves(1, 300, 150), shelves(2, 300, 150)]
        asked = work(*[square(100, dish)] * 4, kilns=two, route=ROUTES[RouteName.FUSE_SLUMP])

        plan = planned(shop, asked)

        assert_sound(shop, asked, plan)
        first, second = (load for load in plan.loads if load.step == 2)
        assert first.done <= second.begins

    def test_a_single_mould_is_filled_night_after_night(self) -> None:
        bowl = mould(5, 120, count=1)
        shop = world(kiln(1), days=20)
        asked = work(*[disc(100, bowl)] * 3, kilns=[shelves(1, 500, 500)], route=ROUTES[RouteName.FUSE_SLUMP])

        plan = planned(shop, asked)

        assert_sound(shop, asked, plan)
        assert [load.step for load in plan.loads] == [1, 2, 2, 2]
        # Unloaded in the morning, washed, dry by the evening, and loaded again.
        assert plan.loads[2].begins - plan.loads[1].done >= 20 + 8 * HOUR

    def test_load_after_load_takes_what_was_fused_first(self) -> None:
        shop = world(kiln(1), days=20)
        asked = work(*[square(250)] * 2, kilns=[shelves(1, 300, 300)], route=ROUTES[RouteName.FUSE_SLUMP])

        plan = planned(shop, asked)

        first, second = (load.stands[0].piece for load in plan.loads if load.step == 1)
        assert [load.stands[0].piece for load in plan.loads if load.step == 2] == [first, second]


class TestCosts:
    def test_energy_wash_and_hours_are_shared_by_area(self) -> None:
        shop = world(kiln(1), days=6)
        asked = work(
            square(200),
            square(100),
            disc(100),
            kilns=[shelves(1, 400, 400, kwh_price=0.5, hour_price=2.0, shelf_wash_price=3.0)],
        )

        plan = planned(shop, asked)

        (load,) = plan.loads
        assert load.cost == pytest.approx(load.energy_kwh * 0.5 + 3.0 + (load.done - load.begins) / 60 * 2.0)
        large, small, round_ = plan.cost_of
        assert large == pytest.approx(4 * small)
        assert round_ == pytest.approx(small * 3.14159265 / 4)
        assert large + small + round_ == pytest.approx(plan.cost)

    def test_what_has_no_price_costs_nothing(self) -> None:
        plan = planned(world(kiln(1), days=6), work(square(200), kilns=[shelves(1, 400, 400)]))

        assert plan.cost == 0.0
        assert plan.cost_of == (0.0,)

    def test_the_cheapest_kiln_is_taken_however_late_it_is(self) -> None:
        shop = world(kiln(1), kiln(2), days=20, taken=[taken(2, 0, 8 * DAY)])
        kilns = [shelves(1, 300, 300, hour_price=9.0), shelves(2, 300, 300, hour_price=1.0)]

        cheap = planned(shop, work(square(100), kilns=kilns, aim=Aim.CHEAPEST))
        soon = planned(shop, work(square(100), kilns=kilns))

        assert [load.kiln_id for load in cheap.loads] == [2]
        assert [load.kiln_id for load in soon.loads] == [1]

    def test_the_cheapest_does_not_stand_cool_over_night(self) -> None:
        """A quick kiln that is loaded in time is unloaded on the same day."""
        shop = world(kiln(1, QUICK), days=8)
        asked = work(square(100), kilns=[shelves(1, 300, 300, hour_price=1.0)], arrives=0)

        (load,) = planned(shop, replace(asked, aim=Aim.CHEAPEST)).loads

        assert load.unload == load.cool


class TestWorlds:
    def test_another_season_another_night(self) -> None:
        """From the fourth day on the kiln goes by another record."""
        shop = world(kiln(1, bodies=((0, FIBRE), (3 * DAY, BRICK))), days=12)
        asked = work(square(100), kilns=[shelves(1, 300, 300)])

        before, after = planned(shop, asked), planned(shop, replace(asked, arrives=4 * DAY))

        assert_sound(shop, asked, before)
        assert_sound(shop, replace(asked, arrives=4 * DAY), after)
        assert after.loads[0].cool - after.loads[0].closed > before.loads[0].cool - before.loads[0].closed

    def test_an_unloading_of_no_length_is_still_done_while_somebody_is_there(self) -> None:
        shop = world(kiln(1, clear_min=0), days=12)
        asked = work(*[square(250)] * 2, kilns=[shelves(1, 300, 300)])

        plan = planned(shop, asked)

        assert_sound(shop, asked, plan)
        assert [load.unload % DAY for load in plan.loads] == [9 * HOUR, 9 * HOUR]

    def test_the_past_is_past(self) -> None:
        shop = world(kiln(1), days=12, now=3 * DAY)

        plan = planned(shop, work(square(100), kilns=[shelves(1, 300, 300)]))

        assert min(work.span[0] for work in plan.handwork) >= 3 * DAY

    def test_two_studios_the_pieces_stay_together_where_they_are_ready_first(self) -> None:
        there = replace(
            world(*KILNS).studios[1], id=2, name="Far", staffed=dict.fromkeys(Duty, daily(6, 23, 42))
        )
        near = world(kiln(1, BRICK), kiln(2, FIBRE, studio_id=2))
        shop = replace(near, studios={**near.studios, 2: there})
        kilns = [shelves(1, 300, 300), shelves(2, 300, 300)]

        plan = planned(shop, work(*[square(250)] * 2, kilns=kilns))

        assert {load.kiln_id for load in plan.loads} == {2}
        assert {each.studio_id for each in plan.handwork} == {2}
