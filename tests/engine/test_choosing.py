"""Offers are ranked by what was asked, and a start that does not work is opened by the smallest change."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.choosing import nearest, offers
from scheduling.engine.clock import floor_minutes
from scheduling.engine.measures import Measure, measure
from scheduling.engine.openings import Change, openings
from scheduling.engine.records import Placement, Taken
from scheduling.engine.search import place
from scheduling.engine.series import weekly_days, weekly_space
from scheduling.engine.spans import Span
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.test_search import HORIZON, ask, small_world, worlds

DAY = 24 * 60


def holds(spans: tuple[Span, ...], minute: int) -> bool:
    return any(start <= minute < end for start, end in spans)


@settings(max_examples=40, deadline=None)
@given(worlds(), st.sampled_from(Measure), st.none() | st.integers(0, HORIZON))
def test_every_offer_works_and_the_best_comes_first(world: World, order: Measure, wish: int | None) -> None:
    found = offers(world, [ask()], (0, HORIZON), order=order, wish=wish)

    space = start_space(world, ask(), 0, HORIZON)
    assert bool(found) == bool(space)
    for offer in found:
        assert holds(space, offer.placement.start)
        assert place(world, offer.ask, offer.placement.start) == offer.placement
    assert [round(o.measured, 6) for o in found] == sorted(round(o.measured, 6) for o in found)
    assert found == offers(world, [ask()], (0, HORIZON), order=order, wish=wish)


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(0, HORIZON - 1))
def test_the_nearest_start_on_either_side(world: World, start: int) -> None:
    space = start_space(world, ask(), 0, HORIZON)

    before, after = nearest(space, start)

    starts = [minute for span in space for minute in range(*span)]
    assert before == max((s for s in starts if s < start), default=None)
    assert after == min((s for s in starts if s >= start), default=None)


def test_the_warm_glory_hole_comes_first_when_heat_is_to_be_saved() -> None:
    earlier = Taken(
        apparatus_id=2, place=1, span=(300, 420), core=(320, 420), held_by="earlier", occupancy_id=1
    )
    world = small_world(taken=(earlier,))
    wanted = replace(ask(), stations=((ask().stations[1]),), firings=())

    by_heat = offers(world, [wanted], (0, HORIZON), order=Measure.WARM)[0]
    by_time = offers(world, [wanted], (0, HORIZON))[0]

    assert by_time.placement.start < by_heat.placement.start
    assert by_heat.placement.held[0].apparatus_id == 2
    assert measure(world, wanted, by_heat.placement, Measure.WARM) < measure(
        world, wanted, by_time.placement, Measure.WARM
    )


@settings(max_examples=60, deadline=None)
@given(worlds(), st.integers(0, HORIZON - 1))
def test_what_opens_a_start_does_open_it(world: World, start: int) -> None:
    wanted = ask()
    space = start_space(world, wanted, 0, HORIZON)
    if holds(space, start):
        return

    for opening in openings(world, [wanted], start, space):
        answer = place(world, opening.ask, opening.placement.start)
        assert answer == opening.placement
        if opening.change is Change.TIME:
            assert opening.ask == wanted
        else:
            assert opening.placement.start == start
        assert opening.sentence.endswith("works.")


def test_thinner_work_opens_a_start_whose_night_is_too_short() -> None:
    world = small_world(taken=(_annealer_from(400),))
    thick = ask()
    firing = replace(thick.firings[0], piece=replace(thick.firings[0].piece, thickness_mm=40))
    wanted = replace(thick, stations=(), firings=(firing,), person_id=None)
    starts = [s for s in range(400) if not isinstance(place(world, wanted, s), Placement)]

    found = [o for s in starts[:1] for o in openings(world, [wanted], s + 100, ())]

    assert Change.THICKNESS in {opening.change for opening in found}


def _annealer_from(minute: int) -> Taken:
    return Taken(
        apparatus_id=6,
        place=1,
        span=(minute, minute + 60),
        core=(minute, minute + 60),
        held_by="repair",
        outage=True,
    )


def in_town(world: World, zone: str) -> World:
    return replace(world, studios={1: replace(world.studios[1], zone=ZoneInfo(zone))})


def chicago(day: dt.date, hour: int, minute: int = 0) -> int:
    return floor_minutes(dt.datetime.combine(day, dt.time(hour, minute), ZoneInfo("America/Chicago")))


def test_six_in_the_evening_stays_six_in_the_evening_over_a_change_of_clocks() -> None:
    """The clocks of Chicago go forward on Sunday 14 March 2027."""
    days = weekly_days(dt.date(2027, 3, 2), 4, frozenset())
    staffed = tuple((chicago(day, 17), chicago(day, 22)) for day in days)
    world = in_town(small_world(staffed=staffed), "America/Chicago")
    wanted = ask(stations=(), firings=(), person_id=None)

    space = weekly_space(world, wanted, days)

    assert space.every_week == ((17 * 60, 20 * 60 + 30 + 1),)
    assert space.spoilt == ()


def test_the_week_that_spoils_a_good_time_is_named() -> None:
    days = weekly_days(dt.date(2027, 3, 2), 4, frozenset({dt.date(2027, 3, 9)}))
    staffed = [(chicago(day, 17), chicago(day, 22)) for day in days]
    staffed[2] = (chicago(days[2], 19), chicago(days[2], 22))
    world = in_town(small_world(staffed=tuple(staffed)), "America/Chicago")

    space = weekly_space(world, ask(stations=(), firings=(), person_id=None), days)

    assert dt.date(2027, 3, 9) not in days
    assert space.every_week == ((19 * 60, 20 * 60 + 31),)
    assert [(spoilt.times, spoilt.weeks) for spoilt in space.spoilt] == [(((17 * 60, 19 * 60),), (days[2],))]


@pytest.mark.parametrize(
    ("day", "works"),
    [(dt.date(2027, 3, 14), False), (dt.date(2027, 11, 7), True)],
    ids=["an hour that is jumped over", "an hour that comes twice"],
)
def test_a_wall_time_in_a_change_of_clocks(day: dt.date, works: bool) -> None:
    world = in_town(small_world(staffed=((chicago(day, 0), chicago(day, 23)),)), "America/Chicago")

    space = weekly_space(world, ask(stations=(), firings=(), person_id=None, teach_min=30), [day])

    assert holds(space.every_week, 2 * 60 + 30 if day.month == 3 else 1 * 60 + 30) is works
    assert all(0 <= start < end <= DAY for start, end in space.every_week)


@settings(max_examples=40, deadline=None)
@given(worlds(), st.integers(1, 4))
def test_the_soonest_are_found_without_looking_at_all_of_the_time(world: World, most: int) -> None:
    found = offers(world, [ask()], (0, HORIZON), most=most)

    every = offers(world, [ask()], (0, HORIZON), most=1000)
    assert [o.placement.start for o in found] == [o.placement.start for o in every][:most]
    days = {o.placement.start // DAY for o in every}
    space = start_space(world, ask(), 0, HORIZON)
    assert days == {minute // DAY for span in space for minute in range(*span)}
