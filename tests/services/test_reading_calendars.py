"""Other calendars are fetched by their links and read again: what is new, what is not, and what fails."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine
from django.db import connection

from scheduling.ical.reading.busy import busy_spans
from scheduling.ical.reading.fetch import Fetched
from scheduling.models import BusySpan, Message, OtherCalendar
from scheduling.selectors.options import Option, Refused
from scheduling.services import other_calendars, reading_calendars
from scheduling.services.other_calendars import read_again, remove
from scheduling.services.reading_calendars import MOST_AT_ONCE, _claim, _find, _write, read_due
from scheduling.services.rounds import make_rounds
from studios.models import Membership
from tests.services.other_calendars import LINK, Elsewhere, by_file, by_link, event, hours_of
from tests.services.test_other_calendars import asked
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
MONDAY_NINE = local(0, 9)
HOUR, DAY = dt.timedelta(hours=1), dt.timedelta(days=1)
TUESDAY_EVENING = event(local(1, 18), local(1, 19))
WEDNESDAY_EVENING = event(local(2, 18), local(2, 19))
DAILY = event(local(-60, 12), local(-60, 13), "RRULE:FREQ=DAILY")
Clock = time_machine.Traveller


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[Clock]:
    """It is Monday, nine o'clock; calendars are read in this process, which is quicker."""
    monkeypatch.setattr(other_calendars, "busy_apart", busy_spans)
    with time_machine.travel(MONDAY_NINE, tick=False) as moved:
        yield moved


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Elsewhere:
    """Where the linked calendar lies; it has the evening of Tuesday."""
    there = Elsewhere(TUESDAY_EVENING)
    monkeypatch.setattr(reading_calendars, "fetch", there.fetch)
    return there


def last_of(calendar: OtherCalendar) -> dt.datetime:
    return calendar.spans.latest("starts_at").starts_at


def test_the_round_fetches_a_link_and_its_hours_are_no_longer_offered(town: Town, server: Elsewhere) -> None:
    given = by_link(town.instructor)
    assert isinstance(asked(town, local(1, 18)), Option)

    assert make_rounds()["other-calendars"] == 1

    given.refresh_from_db()
    assert hours_of(given) == ["Tue 04 18:00 to Tue 04 19:00"]
    assert (given.read_at, given.etag, given.problem) == (MONDAY_NINE, '"one"', "")
    assert given.next_try_at == MONDAY_NINE + 2 * HOUR
    assert isinstance(asked(town, local(1, 18)), Refused)
    assert server.asked == [(LINK, "")]


def test_what_has_not_changed_is_not_read_again_on_the_same_day(
    town: Town, server: Elsewhere, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    given = by_link(town.instructor)
    read_due()
    clock.shift(2 * HOUR)
    monkeypatch.setattr(reading_calendars, "read", None)

    assert read_due() == 1

    given.refresh_from_db()
    assert server.asked == [(LINK, ""), (LINK, '"one"')]
    assert hours_of(given) == ["Tue 04 18:00 to Tue 04 19:00"]
    assert (given.read_at, given.next_try_at) == (MONDAY_NINE + 2 * HOUR, MONDAY_NINE + 4 * HOUR)


def test_what_is_sent_again_although_it_has_not_changed_is_not_read_again(
    town: Town, server: Elsewhere, clock: Clock, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_link(town.instructor)
    read_due()
    clock.shift(2 * HOUR)
    server.says(TUESDAY_EVENING, etag='"two"')
    monkeypatch.setattr(reading_calendars, "read", None)

    read_due()

    assert OtherCalendar.objects.get().etag == '"two"'


def test_what_has_changed_takes_the_place_of_what_was(town: Town, server: Elsewhere, clock: Clock) -> None:
    given = by_link(town.instructor)
    server.says(TUESDAY_EVENING, DAILY)
    read_due()
    kept = dict(given.spans.values_list("starts_at", "pk"))
    clock.shift(2 * HOUR)
    server.says(WEDNESDAY_EVENING, DAILY, etag='"two"')

    read_due()

    now = dict(given.spans.values_list("starts_at", "pk"))
    assert now.keys() ^ kept.keys() == {local(1, 18), local(2, 18)}
    assert now[local(5, 12)] == kept[local(5, 12)]
    assert isinstance(asked(town, local(1, 18)), Option)
    assert isinstance(asked(town, local(2, 18)), Refused)


def test_the_first_reading_of_a_day_moves_the_end_of_what_is_known_on(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    server.says(DAILY)
    linked, filed = by_link(town.instructor), by_file(town.other_instructor, DAILY)
    read_due()
    ends = last_of(linked)
    assert last_of(filed) == ends

    clock.shift(DAY)

    assert read_due() == 2
    assert (last_of(linked), last_of(filed)) == (ends + DAY, ends + DAY)
    assert not BusySpan.objects.filter(ends_at__lt=local(-6, 9)).exists()
    filed.refresh_from_db()
    assert filed.next_try_at == MONDAY_NINE + 2 * DAY


def test_while_nobody_answers_the_last_good_copy_stays_in_force_and_is_laid_out_on(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    server.says(DAILY)
    given = by_link(town.instructor)
    read_due()
    ends = last_of(given)
    server.is_away()

    clock.shift(2 * HOUR)
    read_due()
    given.refresh_from_db()
    assert (given.failures, given.read_at) == (1, MONDAY_NINE)
    assert given.problem == "The calendar cannot be fetched: there is no server calendars.example."
    assert last_of(given) == ends

    clock.shift(DAY)
    read_due()
    given.refresh_from_db()
    assert (given.failures, given.read_at) == (2, MONDAY_NINE)
    assert last_of(given) == ends + DAY


def test_a_file_that_breaks_is_refused_whole_and_the_last_good_copy_stays(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    given = by_link(town.instructor)
    read_due()
    server.says(WEDNESDAY_EVENING, event(local(3, 18), local(3, 17)), etag='"two"')
    clock.shift(2 * HOUR)

    read_due()

    given.refresh_from_db()
    assert given.problem == "Line 15: DTEND: the event ends before it begins."
    assert hours_of(given) == ["Tue 04 18:00 to Tue 04 19:00"]
    assert given.etag == '"one"'  # so that the broken one is never taken for known


def test_it_is_tried_again_later_and_later_and_well_again_at_once(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    given = by_link(town.instructor)
    server.is_away()

    waits = []
    for _ in range(8):
        begun = clock_now()
        read_due()
        given.refresh_from_db()
        waits.append((given.next_try_at - begun) / HOUR)
        clock.move_to(given.next_try_at)
    server.says(TUESDAY_EVENING)
    read_due()
    given.refresh_from_db()

    assert waits == [0.25, 0.5, 1, 2, 4, 8, 12, 12]
    assert (given.failures, given.problem) == (0, "")
    assert given.spans.count() == 1


def clock_now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def test_its_owner_is_told_once_when_it_has_failed_for_a_day(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    by_link(town.instructor, label="home")
    read_due()
    server.is_away()

    for hours in (2, 21.5, 1, 12, 12):
        clock.shift(hours * HOUR)
        read_due()
        told_after = Message.objects.count()
        assert told_after == (1 if clock_now() - MONDAY_NINE >= DAY else 0)

    message = Message.objects.get()
    assert message.person == town.instructor
    assert message.subject == "Your calendar “home” cannot be read"
    assert "Since Mon 3 Mar 2031, 09:00 CST your calendar “home” from calendars.example" in message.body
    assert "secret" not in message.body

    server.says(TUESDAY_EVENING)
    clock.shift(DAY)
    read_due()
    server.is_away()
    clock.shift(2 * DAY)
    read_due()
    assert Message.objects.count() == 2


def test_of_whoever_no_longer_teaches_nothing_is_fetched(town: Town, server: Elsewhere) -> None:
    by_link(town.instructor)
    Membership.objects.filter(person=town.instructor).delete()

    assert read_due() == 0
    assert server.asked == []


def test_what_is_taken_away_while_it_is_read_stays_away(town: Town, server: Elsewhere) -> None:
    given = by_link(town.instructor)
    claim = _claim()
    assert claim is not None

    found = _find(claim, lambda: None)
    remove(actor=town.instructor, calendar=given)
    _write(claim, found)

    assert not OtherCalendar.objects.exists()
    assert not BusySpan.objects.exists()


def test_of_two_that_read_one_calendar_the_later_one_writes(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    given = by_link(town.instructor)
    first = _claim()
    assert first is not None
    assert _claim() is None
    slow = _find(first, lambda: None)
    clock.shift(HOUR)
    server.says(WEDNESDAY_EVENING, etag='"two"')

    assert read_due() == 1
    _write(first, slow)

    given.refresh_from_db()
    assert hours_of(given) == ["Wed 05 18:00 to Wed 05 19:00"]
    assert given.etag == '"two"'


def test_nothing_is_open_in_the_database_while_a_server_is_waited_for(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    given, depth = by_link(town.instructor), len(connection.savepoint_ids)
    seen: list[int] = []
    monkeypatch.setattr(
        reading_calendars, "fetch", lambda *_, **__: seen.append(len(connection.savepoint_ids))
    )

    with pytest.raises(AttributeError):
        read_due()

    assert seen == [depth]
    given.refresh_from_db()
    assert given.next_try_at == MONDAY_NINE + 10 * dt.timedelta(minutes=1)


def test_a_round_reads_some_and_keeps_its_turn_at_each_step(town: Town, server: Elsewhere) -> None:
    OtherCalendar.objects.bulk_create(
        OtherCalendar(person=town.instructor, label="many", link=f"{LINK}?{number}")
        for number in range(MOST_AT_ONCE + 3)
    )
    kept: list[int] = []

    assert read_due(lambda: kept.append(1)) == MOST_AT_ONCE

    assert len(kept) == 2 * MOST_AT_ONCE
    assert read_due() == 3


def test_asked_for_again_it_is_read_by_the_next_round(town: Town, server: Elsewhere) -> None:
    given = by_link(town.instructor)
    read_due()
    assert read_due() == 0

    read_again(actor=town.instructor, calendar=given)

    assert read_due() == 1


def test_a_server_that_says_nothing_has_changed_of_what_it_never_sent(
    town: Town, server: Elsewhere, clock: Clock
) -> None:
    server.answers(lambda _known: Fetched(content=None, etag="", last_modified=""))
    given = by_link(town.instructor)

    read_due()

    given.refresh_from_db()
    assert (given.failures, given.read_at, given.content) == (1, None, None)
    assert "has never sent it" in given.problem


@pytest.mark.parametrize("etag", ['"' + "x" * 300 + '"', '"a\x00b"'])
def test_a_mark_that_cannot_be_kept_whole_is_not_kept(town: Town, server: Elsewhere, etag: str) -> None:
    server.says(TUESDAY_EVENING, etag=etag)
    given = by_link(town.instructor)

    read_due()

    given.refresh_from_db()
    assert (given.etag, given.spans.count()) == ("", 1)
