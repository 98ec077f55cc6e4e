"""Classes that are over in time: for the neighbours, for the lease, or as whoever asks wishes."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from scheduling.engine.clock import floor_minutes
from scheduling.engine.latest_end import over_by
from scheduling.engine.records import Ask, Kind, Placement, Refusal
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.small import an_hour, both_find, world_of
from tests.engine.reference.town import thing

CHICAGO = ZoneInfo("America/Chicago")
TORCH = thing(8, Kind.TORCH)
DAY = 24 * 60


def closing(latest: int) -> World:
    """A studio with one torch in which classes are over by a minute of the day; on three days."""
    world = world_of([TORCH])
    days = tuple((day * DAY, day * DAY + latest) for day in range(3))
    return replace(world, studios={1: replace(world.studios[1], over_by=days)})


def an_hour_at_the_torch(cleanup_min: int = 0) -> Ask:
    return replace(an_hour((Kind.TORCH, 1)), cleanup_min=cleanup_min)


def test_a_class_may_end_at_the_latest_end_and_not_a_minute_later() -> None:
    world = closing(21 * 60)

    found = start_space(world, an_hour_at_the_torch(), 0, 2 * DAY)

    assert found == ((0, 20 * 60 + 1), (DAY, DAY + 20 * 60 + 1))


def test_the_clean_up_may_go_on_after_it() -> None:
    world = closing(21 * 60)

    answer = place(world, an_hour_at_the_torch(cleanup_min=30), 20 * 60)

    assert isinstance(answer, Placement)
    assert answer.person_span == (20 * 60, 21 * 60 + 30)


def test_the_refusal_says_when_it_would_be_over_and_when_it_may_begin_again() -> None:
    answer = place(closing(21 * 60), an_hour_at_the_torch(), 20 * 60 + 30)

    assert isinstance(answer, Refusal)
    (reason,) = answer.reasons
    assert reason.code == "too-late"
    assert reason.sentence == (
        "At Studio classes are over by 21:00; class would go on until Thu 1 Jan 21:30."
    )
    assert reason.until == answer.not_before == DAY


def test_a_class_that_begins_after_the_latest_end_waits_for_the_next_day() -> None:
    answer = place(closing(21 * 60), an_hour_at_the_torch(), 22 * 60)

    assert isinstance(answer, Refusal)
    assert "over by 21:00" in answer.reasons[0].sentence
    assert answer.not_before == DAY


def test_a_class_that_is_longer_than_the_day_can_never_be_held() -> None:
    answer = place(closing(45), an_hour_at_the_torch(), 0)

    assert isinstance(answer, Refusal)
    assert answer.not_before is None


def test_who_wishes_to_be_home_early_is_not_offered_late_classes() -> None:
    world = closing(21 * 60)
    wished = replace(an_hour_at_the_torch(), over_by=((0, 18 * 60), (DAY, DAY + 18 * 60)))

    answer = place(world, wished, 19 * 60)

    assert start_space(world, wished, 0, DAY) == ((0, 17 * 60 + 1),)
    assert isinstance(answer, Refusal)
    assert answer.reasons[0].sentence == (
        "It was asked to be over by 18:00; class would go on until Thu 1 Jan 20:00."
    )


def test_the_slow_judge_agrees_at_a_latest_end_in_the_night() -> None:
    world = closing(90)

    ours, judged = both_find(world, an_hour_at_the_torch())

    assert ours == judged == set(range(31))


@pytest.mark.parametrize(
    ("latest", "day", "hours"),
    [
        (dt.time(21), dt.date(2031, 3, 3), 21),
        (dt.time(21), dt.date(2031, 3, 9), 20),  # the clocks go forward at two
        (dt.time(21), dt.date(2031, 11, 2), 22),  # and back
        (dt.time(0), dt.date(2031, 3, 3), 24),  # the midnight after the day
    ],
)
def test_the_latest_end_is_read_from_the_clock_on_the_wall(latest: dt.time, day: dt.date, hours: int) -> None:
    midnight = floor_minutes(dt.datetime.combine(day, dt.time(0), CHICAGO))

    found = over_by(latest, CHICAGO, (midnight + 600, midnight + 700))

    assert found == ((midnight, midnight + hours * 60),)


def test_without_a_latest_end_there_is_no_limit() -> None:
    assert over_by(None, CHICAGO, (0, 10 * DAY)) == ()
