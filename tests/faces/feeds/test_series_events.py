"""A weekly class in a calendar: one event that comes back, and what of it is not as planned."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from scheduling.ical.event import CalendarEvent
from scheduling.models import BookingStatus, Series, Session
from scheduling.selectors.calendar import events_of, week_calendar
from scheduling.selectors.calendar_events import series_events
from studios.models import Person, Role
from tests.faces.feeds import rows
from tests.faces.feeds.conftest import CHICAGO, EVENING, Night

DAY, WEEK = dt.timedelta(days=1), dt.timedelta(days=7)
LONG_AGO = EVENING - 500 * DAY


def at(week: int) -> dt.datetime:
    """Saturdays at six by the clocks of Chicago, which go forward after the first."""
    wall = EVENING.astimezone(CHICAGO).replace(tzinfo=None) + week * WEEK
    return wall.replace(tzinfo=CHICAGO).astimezone(dt.UTC)


@pytest.fixture
def weekly(night: Night) -> Series:
    """Six Saturdays; the one in the evening of the night is the first."""
    series = Series.objects.create(
        course=night.session.course,
        studio=night.studio,
        instructor=night.instructor,
        first_day=EVENING.astimezone(CHICAGO).date(),
        time=dt.time(18),
        booked_by=night.instructor,
    )
    Session.objects.filter(pk=night.session.pk).update(series=series, planned_at=EVENING)
    for week in range(1, 6):
        rows.session(
            night.session.course, night.studio, night.instructor, at(week), series=series, planned_at=at(week)
        )
    return series


def change(series: Series, week: int, **facts: Any) -> Session:
    session = series.sessions.get(planned_at=at(week))
    Session.objects.filter(pk=session.pk).update(
        sequence=session.sequence + 1, changed_at=timezone.now(), **facts
    )
    return session


def call_off(series: Series, week: int) -> Session:
    return change(series, week, status=BookingStatus.CANCELLED)


def shown(series: Series, since: dt.datetime = LONG_AGO, of: Person | None = None) -> list[CalendarEvent]:
    theirs = None if of is None else set(series.sessions.filter(instructor=of).values_list("pk", flat=True))
    return series_events(series, series.sessions.order_by("pk"), theirs=theirs, since=since)


def test_a_series_as_planned_is_one_event(weekly: Series) -> None:
    (event,) = shown(weekly)

    assert (event.uid, event.title) == (str(weekly.uid), "Evening blowing")
    assert (event.starts_at, event.ends_at) == (EVENING, EVENING + 3 * rows.HOUR)
    assert event.weekly is not None
    assert (event.weekly.until, event.weekly.skipped) == (at(5), ())
    assert (event.sequence, event.stands_for) == (0, None)


def test_a_moved_meeting_stands_for_the_one_that_was_planned(weekly: Series) -> None:
    moved = change(weekly, 2, starts_at=at(2) + DAY, ends_at=at(2) + DAY + 3 * rows.HOUR)

    master, meeting = shown(weekly)

    assert (meeting.uid, meeting.stands_for, meeting.starts_at) == (master.uid, at(2), at(2) + DAY)
    assert meeting.series_zone == "America/Chicago"
    assert meeting.page == ("session", str(moved.uid))
    assert master.weekly is not None
    assert master.weekly.skipped == ()


def test_a_meeting_that_is_called_off_is_seen_for_a_while_and_then_skipped(weekly: Series) -> None:
    call_off(weekly, 1)

    before = shown(weekly, since=at(1) + 3 * rows.HOUR - rows.MINUTE)
    after = shown(weekly, since=at(1) + 3 * rows.HOUR)

    assert [(event.stands_for, event.cancelled) for event in before] == [(None, False), (at(1), True)]
    (master,) = after
    assert master.weekly is not None
    assert master.weekly.skipped == (at(1),)


def test_a_week_without_a_meeting_is_skipped(weekly: Series) -> None:
    weekly.sessions.filter(planned_at=at(3)).delete()
    (master,) = shown(weekly)
    assert master.weekly is not None
    assert master.weekly.skipped == (at(3),)


def test_a_meeting_that_somebody_else_teaches_is_theirs(weekly: Series, night: Night) -> None:
    orrin = rows.person("Orrin", night.studio, Role.INSTRUCTOR)
    change(weekly, 4, instructor=orrin)

    (vera,), (his,) = shown(weekly, of=night.instructor), shown(weekly, of=orrin)

    assert vera.weekly is not None
    assert his.weekly is not None
    assert vera.weekly.skipped == (at(4),)
    assert (his.starts_at, his.weekly.until, his.weekly.skipped) == (at(4), at(4), ())
    assert his.uid == vera.uid


def test_the_number_of_changes_rises_with_each_change_of_any_meeting(weekly: Series, night: Night) -> None:
    """Also with one that takes a meeting away from the reader."""
    orrin = rows.person("Orrin", night.studio, Role.INSTRUCTOR)
    seen = [shown(weekly, of=night.instructor)[0]]
    for step in (
        lambda: change(weekly, 1, starts_at=at(1) + DAY, ends_at=at(1) + DAY + 3 * rows.HOUR),
        lambda: call_off(weekly, 2),
        lambda: change(weekly, 1, instructor=orrin),
    ):
        step()
        seen.append(shown(weekly, of=night.instructor)[0])

    assert [event.sequence for event in seen] == [0, 1, 2, 3]
    assert [event.changed_at for event in seen] == sorted({event.changed_at for event in seen})


def test_what_stands_for_a_meeting_never_counts_less_than_its_series(weekly: Series) -> None:
    """A program that was told of the whole series would take it for older."""
    change(weekly, 1)
    change(weekly, 2, starts_at=at(2) + DAY, ends_at=at(2) + DAY + 3 * rows.HOUR)

    assert {event.sequence for event in shown(weekly)} == {2}


def test_a_series_says_only_what_all_its_meetings_share(weekly: Series, night: Night) -> None:
    for session in weekly.sessions.all():
        rows.teaching(session, dt.timedelta(minutes=15), dt.timedelta(0))
    weekly.sessions.get(planned_at=at(2)).assistants.add(rows.person("Orrin", night.studio))

    (master,) = shown(weekly)

    assert master.description == "Set-up begins 15 min before the class."


def test_a_longer_meeting_is_not_as_planned(weekly: Series) -> None:
    change(weekly, 2, ends_at=at(2) + 4 * rows.HOUR)
    _, meeting = shown(weekly)
    assert (meeting.stands_for, meeting.ends_at) == (at(2), at(2) + 4 * rows.HOUR)


def test_a_meeting_that_fits_into_no_week_stands_alone(weekly: Series) -> None:
    """The clocks of a studio may be set anew after it was planned."""
    odd = change(weekly, 3, planned_at=at(3) + rows.HOUR)

    master, alone = shown(weekly)

    assert (alone.uid, alone.stands_for) == (str(odd.uid), None)
    assert master.weekly is not None
    assert master.weekly.skipped == (at(3),)


def test_a_subscription_shows_a_series_whole_and_a_file_each_meeting(weekly: Series, night: Night) -> None:
    """Five weeks after the first meeting only the last two are within the window."""
    subscribed = rows.subscribed(night.instructor, at(5) + 25 * DAY)
    kept = week_calendar(person=night.instructor, year=2027, week=11).events

    series = [event for event in subscribed if event.kind == "class"]
    assert [(event.uid, event.starts_at) for event in series] == [(str(weekly.uid), EVENING)]
    meeting = weekly.sessions.get(planned_at=at(1))
    assert [(event.uid, event.weekly) for event in kept] == [(str(meeting.uid), None)]


def test_a_series_of_which_no_meeting_is_near_is_not_shown(weekly: Series, night: Night) -> None:
    shown = events_of(person=night.instructor, from_at=at(5) + 4 * rows.HOUR, to_at=at(9), whole_series=True)
    assert shown == []


def test_who_assists_in_some_meetings_sees_these(weekly: Series, night: Night) -> None:
    orrin = rows.person("Orrin", night.studio, Role.INSTRUCTOR)
    for week in (2, 4):
        weekly.sessions.get(planned_at=at(week)).assistants.add(orrin)

    (event,) = events_of(person=orrin, from_at=EVENING, to_at=at(6), whole_series=True)

    assert event.weekly is not None
    assert (event.starts_at, event.weekly.until, event.weekly.skipped) == (at(2), at(4), (at(3),))
