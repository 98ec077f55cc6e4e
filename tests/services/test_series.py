"""A weekly class is booked for all of its weeks, or for none."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduling.errors import InvalidInput, NotAllowed, SeriesSpoilt
from scheduling.models import Booking, Message, Series, Session
from scheduling.selectors.offers import weekly_times
from scheduling.services.outages import enter_outage
from scheduling.services.series import book_series
from tests.invariants import broken
from tests.worlds import FIRST_MONDAY, ZONE, Town, local

pytestmark = pytest.mark.django_db

TUESDAYS = tuple(FIRST_MONDAY + dt.timedelta(days=1 + 7 * week) for week in range(6))


def weekly(town: Town, days: tuple[dt.date, ...] = TUESDAYS, time: dt.time = dt.time(18)) -> Series:
    course = town.courses["blowing"]
    return book_series(
        actor=town.instructor,
        course=course,
        studio=town.hot_shop,
        instructor=town.instructor,
        days=days,
        time=time,
    )


def test_six_tuesdays_at_six_by_the_clock_over_a_change_of_clocks(town: Town) -> None:
    series = weekly(town)

    meetings = list(series.sessions.order_by("starts_at"))
    assert [m.starts_at.astimezone(ZONE).date() for m in meetings] == list(TUESDAYS)
    assert {m.starts_at.astimezone(ZONE).time() for m in meetings} == {dt.time(18)}
    assert (meetings[1].starts_at - meetings[0].starts_at) == dt.timedelta(days=7, hours=-1)
    assert all(m.loads.get().firing.cool_at > m.ends_at for m in meetings)
    assert broken() == []
    assert Message.objects.filter(person=town.instructor).count() == 1


def test_one_week_that_cannot_be_had_books_nothing_and_is_named(town: Town) -> None:
    for name in ("annealer 1", "annealer 2"):
        enter_outage(
            actor=town.technician,
            equipment=town.equipment[name],
            starts_at=local(15, 8),
            ends_at=local(16, 8),
            reason="new elements",
        )

    with pytest.raises(SeriesSpoilt, match="Tuesday 18 March: No annealer") as refused:
        weekly(town)

    assert refused.value.facts["day"] == "2031-03-18"
    assert not Session.objects.exists()
    assert not Booking.objects.exists()
    assert not Series.objects.exists()
    assert not Message.objects.exists()


def test_the_weeks_that_spoil_a_time_are_said_before_anything_is_booked(town: Town) -> None:
    for name in ("annealer 1", "annealer 2"):
        enter_outage(
            actor=town.technician,
            equipment=town.equipment[name],
            starts_at=local(15, 8),
            ends_at=local(16, 8),
            reason="new elements",
        )

    found = weekly_times(
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        first_day=TUESDAYS[0],
        weeks=6,
        time=dt.time(18),
    )

    assert found.days == TUESDAYS
    assert not any(line.first <= dt.time(18) <= line.last for line in found.times)
    spoilt = [line for line in found.spoilt if line.first <= dt.time(18) <= line.last]
    assert [line.spoilt_by for line in spoilt] == [(TUESDAYS[2],)]
    assert len(found.meetings) == 5
    assert [refused.starts_at for refused in found.refused] == [local(15, 18)]
    assert "No annealer" in found.refused[0].reasons[0].sentence


def test_what_weekly_times_offers_can_be_booked(town: Town) -> None:
    found = weekly_times(
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        first_day=TUESDAYS[0],
        weeks=4,
        skipped=[TUESDAYS[1]],
    )

    assert TUESDAYS[1] not in found.days
    series = weekly(town, found.days, found.times[-1].last)
    assert series.sessions.count() == 4


def test_equipment_may_differ_from_week_to_week(town: Town) -> None:
    enter_outage(
        actor=town.technician,
        equipment=town.equipment["hole 1"],
        starts_at=local(8, 8),
        ends_at=local(9, 8),
        reason="new lining",
    )

    series = weekly(town)

    holes = [
        session.booking.occupancies.get(equipment__kind="glory-hole").equipment.name
        for session in series.sessions.order_by("starts_at")
    ]
    assert holes[:3] == ["hole 1", "hole 2", "hole 1"]


@pytest.mark.parametrize(
    "days",
    [(), TUESDAYS[:1] * 60 + tuple(FIRST_MONDAY + dt.timedelta(days=7 * week) for week in range(53))],
    ids=["no day", "more than a year"],
)
def test_a_series_has_days(town: Town, days: tuple[dt.date, ...]) -> None:
    with pytest.raises(InvalidInput, match="between 1 and 52"):
        weekly(town, days)


def test_a_series_keeps_to_its_weekday(town: Town) -> None:
    with pytest.raises(InvalidInput, match="whole weeks apart"):
        weekly(town, (TUESDAYS[0], TUESDAYS[1] + dt.timedelta(days=1)))


def test_a_time_that_one_week_does_not_have_is_refused_for_that_week_with_the_reason(town: Town) -> None:
    sunday = FIRST_MONDAY - dt.timedelta(days=1)

    found = weekly_times(
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        first_day=sunday,
        weeks=2,
        time=dt.time(2, 30),
    )

    assert not found.meetings
    assert [refused.starts_at is None for refused in found.refused] == [False, True]
    assert "2031-03-09 02:30 does not exist" in found.refused[1].reasons[0].sentence


def test_who_may_not_book_a_class_books_no_series(town: Town) -> None:
    with pytest.raises(NotAllowed):
        book_series(
            actor=town.student,
            course=town.courses["blowing"],
            studio=town.hot_shop,
            instructor=town.instructor,
            days=TUESDAYS,
            time=dt.time(18),
        )
