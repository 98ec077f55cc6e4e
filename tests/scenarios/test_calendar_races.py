"""Other calendars read while others read and book: each is read once, and no booking finds half of one."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine

from scheduling.ical.reading.busy import busy_spans
from scheduling.models import BusySpan, OtherCalendar, Session
from scheduling.services import other_calendars, reading_calendars
from scheduling.services.reading_calendars import read_due
from scheduling.services.seats import reserve_class_seat
from tests.scenarios.test_races import at_once
from tests.services.other_calendars import LINK, Elsewhere, by_file, by_link, event, hours_of
from tests.services.test_booking import book
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8
EVENING = event(local(1, 18), local(1, 19))
TWO_EVENINGS = (EVENING, event(local(2, 18), local(2, 19)))


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


@pytest.fixture(autouse=True)
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[Elsewhere]:
    """Monday, nine o'clock; somewhere lies a calendar with two evenings in it."""
    there = Elsewhere(*TWO_EVENINGS)
    monkeypatch.setattr(reading_calendars, "fetch", there.fetch)
    monkeypatch.setattr(other_calendars, "busy_apart", busy_spans)
    with time_machine.travel(local(0, 9), tick=False):
        yield there


def test_many_who_make_the_round_at_once_read_each_calendar_once(town: Town, server: Elsewhere) -> None:
    given = [by_link(town.instructor, link=f"{LINK}?{number}") for number in range(3)]

    answers = at_once([read_due] * THREADS, THREADS)

    assert set(answers) == {"done"}
    assert sorted(link for link, _ in server.asked) == [f"{LINK}?{number}" for number in range(3)]
    for each in given:
        assert hours_of(each) == ["Tue 04 18:00 to Tue 04 19:00", "Wed 05 18:00 to Wed 05 19:00"]


def test_the_same_file_given_many_times_at_once_is_one_calendar(town: Town) -> None:
    answers = at_once([lambda: by_file(town.instructor, *TWO_EVENINGS)] * THREADS, THREADS)

    assert set(answers) == {"done"}
    assert (OtherCalendar.objects.count(), BusySpan.objects.count()) == (1, 2)


def test_a_class_is_booked_before_a_calendar_is_read_or_not_at_all(town: Town) -> None:
    by_link(town.instructor)

    answers = at_once([read_due, *[lambda: book(town, "beads", local(1, 18))] * (THREADS - 1)], THREADS)

    booked = Session.objects.count()
    assert booked <= 1
    assert answers["done"] == 1 + booked
    refused = [answer for answer in answers if answer != "done"]
    assert all("busy in their own calendar" in answer or "has beads from" in answer for answer in refused)
    assert BusySpan.objects.count() == 2


def test_a_reading_holds_up_no_seat_of_somebody_else(town: Town) -> None:
    session = book(town, "beads", local(1, 12))
    by_link(town.instructor)

    answers = at_once([read_due, lambda: reserve_class_seat(actor=town.student, session=session)], 2)

    assert set(answers) == {"done"}
    assert session.seat_rows.count() == 1
