"""A weekly class is booked for all of its weeks, or for none."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import InvalidInput, NotAllowed, Over, SeriesSpoilt
from scheduling.models import Booking, BookingStatus, Load, Message, Occupancy, Series, Session
from scheduling.selectors.offers import weekly_times
from scheduling.services import cancelling
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.outages import enter_outage
from scheduling.services.seats import reserve_class_seat
from scheduling.services.series import book_series
from studios.models import Person
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


def seated(series: Series, person: Person, *weeks: int) -> None:
    meetings = list(series.sessions.order_by("starts_at"))
    for week in weeks:
        reserve_class_seat(actor=person, session=meetings[week])


def test_all_meetings_to_come_are_called_off_in_one_and_each_who_comes_is_told_once(town: Town) -> None:
    series = weekly(town)
    first, *rest = series.sessions.order_by("starts_at")
    with time_machine.travel(first.starts_at, tick=False):
        seated(series, town.student, 1, 2)
        seated(series, town.other_student, 3)
        Message.objects.all().delete()

        cancel_series(actor=town.instructor, series=series)

    standing = series.sessions.filter(status=BookingStatus.BOOKED)
    assert list(standing) == [first]
    assert not Occupancy.objects.filter(booking__session__in=rest).exists()
    assert not Load.objects.filter(session__in=rest).exists()
    told = {message.person: message.body for message in Message.objects.all()}
    assert told == {
        town.student: "blowing at Hot shop is called off:\n"
        "Tue 11 Mar 2031, 18:00 CDT\nTue 18 Mar 2031, 18:00 CDT",
        town.other_student: "blowing at Hot shop, Tue 25 Mar 2031, 18:00 CDT, is called off.",
        town.instructor: "blowing at Hot shop is called off:\n"
        "Tue 11 Mar 2031, 18:00 CDT\nTue 18 Mar 2031, 18:00 CDT\nTue 25 Mar 2031, 18:00 CDT\n"
        "Tue 1 Apr 2031, 18:00 CDT\nTue 8 Apr 2031, 18:00 CDT",
    }
    assert broken() == []


def test_a_meeting_called_off_before_stays_as_it_was_and_a_manager_tells_the_instructor(town: Town) -> None:
    series = weekly(town, TUESDAYS[:3])
    gone = series.sessions.order_by("starts_at")[1]
    cancel_session(actor=town.instructor, session=gone)
    Message.objects.all().delete()

    cancel_series(actor=town.manager, series=series)

    assert set(series.sessions.values_list("status", "sequence")) == {(BookingStatus.CANCELLED, 1)}
    (message,) = Message.objects.all()
    assert (message.person, message.subject) == (town.instructor, "Called off: blowing")
    assert message.body.splitlines()[1:] == ["Tue 4 Mar 2031, 18:00 CST", "Tue 18 Mar 2031, 18:00 CDT"]
    with pytest.raises(Over, match="blowing, each week, has no meeting to come"):
        cancel_series(actor=town.manager, series=series)


def test_the_hours_are_free_again_for_another_weekly_class(town: Town) -> None:
    cancel_series(actor=town.instructor, series=weekly(town))

    assert weekly(town).sessions.count() == 6


@pytest.mark.parametrize("who", ["student", "other_instructor", "technician", "stranger"])
def test_who_may_not_call_each_meeting_off_calls_none_off(town: Town, who: str) -> None:
    series = weekly(town, TUESDAYS[:2])

    with pytest.raises(NotAllowed, match="call this class off"):
        cancel_series(actor=getattr(town, who), series=series)

    assert series.sessions.filter(status=BookingStatus.BOOKED).count() == 2


def test_where_one_meeting_is_somebody_elses_none_is_called_off(town: Town) -> None:
    series = weekly(town, TUESDAYS[:2])
    series.sessions.filter(pk=series.sessions.latest("starts_at").pk).update(instructor=town.other_instructor)

    with pytest.raises(NotAllowed):
        cancel_series(actor=town.instructor, series=series)

    assert series.sessions.filter(status=BookingStatus.BOOKED).count() == 2


def test_what_fails_in_one_week_undoes_the_others(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    series = weekly(town, TUESDAYS[:3])
    last = series.sessions.latest("starts_at")
    release = cancelling._release

    def failing(session: Session) -> None:
        if session.pk == last.pk:
            raise RuntimeError("the line is down")
        release(session)

    monkeypatch.setattr(cancelling, "_release", failing)
    with pytest.raises(RuntimeError):
        cancel_series(actor=town.instructor, series=series)

    assert series.sessions.filter(status=BookingStatus.BOOKED).count() == 3
    assert Occupancy.objects.filter(booking__session=series.sessions.earliest("starts_at")).exists()
