"""A weekly class is one event with its exceptions, and every reader lays it out into the same meetings."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from scheduling.ical.event import CalendarEvent, EventKind, Weekly
from scheduling.ical.weekly import planned_starts
from tests.faces.feeds.node_readers import EVERY_EXPANDING, EXACT_EXPANDING
from tests.faces.feeds.readers import Seen
from tests.faces.feeds.samples import Reader, event, lines, local, seen, written

CHICAGO, PRAGUE, LORD_HOWE = "America/Chicago", "Europe/Prague", "Australia/Lord_Howe"
HOUR = dt.timedelta(hours=1)


def series(first: str, last: str, zone: str = CHICAGO, hours: float = 3, **facts: Any) -> CalendarEvent:
    """A weekly class; `skipped` are wall times."""
    skipped = tuple(local(wall, zone) for wall in facts.pop("skipped", ()))
    return event(
        uid="b6a3c9a2-1d0c-4c5e-9f7e-0d7c1f6b7a55",
        kind=EventKind.CLASS,
        title="Beads; colour, twice",
        opaque=True,
        zone=zone,
        starts_at=local(first, zone),
        ends_at=local(first, zone) + dt.timedelta(hours=hours),
        weekly=Weekly(until=local(last, zone), skipped=skipped),
        **facts,
    )


def meeting(of: CalendarEvent, planned: str, **facts: Any) -> CalendarEvent:
    """The meeting of a series that stands for a planned one."""
    start = local(planned, of.zone)
    took: dict[str, Any] = {"starts_at": start, "ends_at": start + of.length}
    return dataclasses.replace(of, weekly=None, stands_for=start, **{**took, **facts})


def all_seen(of: CalendarEvent, *walls: str) -> list[Seen]:
    """What is seen of a series that meets at these wall times."""
    return [seen(meeting(of, wall)) for wall in walls]


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
def test_a_term_with_a_moved_a_skipped_and_a_cancelled_week(reader: Reader) -> None:
    """Tuesdays at six; the clocks go forward on 14 March."""
    beads = series("2027-03-02T18:00", "2027-04-06T18:00", skipped=["2027-03-16T18:00"])
    earlier, later = local("2027-03-08T17:00", CHICAGO), local("2027-03-26T19:30", CHICAGO)
    moved_back = meeting(beads, "2027-03-09T18:00", starts_at=earlier, ends_at=earlier + 3 * HOUR, sequence=3)
    moved_on = meeting(beads, "2027-03-23T18:00", starts_at=later, ends_at=later + 2 * HOUR)
    cancelled = meeting(beads, "2027-03-30T18:00", cancelled=True, title="Beads, called off")

    found = reader(written(moved_back, beads, moved_on, cancelled))

    as_planned = all_seen(beads, "2027-03-02T18:00", "2027-04-06T18:00")
    assert found == sorted([*as_planned, seen(moved_back), seen(moved_on), seen(cancelled)])


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
@pytest.mark.parametrize("zone", [CHICAGO, PRAGUE, LORD_HOWE, "Europe/London", "Africa/Casablanca"])
def test_a_year_of_evenings_stays_by_the_clocks(zone: str, reader: Reader) -> None:
    evening = series("2027-01-05T18:00", "2027-12-28T18:00", zone)

    found = reader(written(evening))

    tuesdays = [dt.date(2027, 1, 5) + dt.timedelta(weeks=week) for week in range(52)]
    assert found == all_seen(evening, *(f"{day}T18:00" for day in tuesdays))


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
@pytest.mark.parametrize(
    ("zone", "first", "change"),
    [
        (CHICAGO, "2027-02-27", "2027-03-13"),
        (CHICAGO, "2027-10-23", "2027-11-06"),
        (PRAGUE, "2027-03-13", "2027-03-27"),
        (PRAGUE, "2027-10-16", "2027-10-30"),
        (LORD_HOWE, "2027-03-20", "2027-04-03"),
        (LORD_HOWE, "2027-09-18", "2027-10-02"),
    ],
)
@pytest.mark.parametrize("from_the_change_on", [False, True])
def test_nights_over_a_change_of_clocks_are_as_long_as_the_others(
    zone: str, first: str, change: str, reader: Reader, *, from_the_change_on: bool
) -> None:
    """Saturdays from eight for twelve hours: on one of them the clocks show seven, or nine, at the end."""
    begin = dt.date.fromisoformat(change if from_the_change_on else first)
    saturdays = [f"{begin + dt.timedelta(weeks=week)}T20:00" for week in range(5)]
    night = series(saturdays[0], saturdays[-1], zone, hours=12)

    found = reader(written(night))

    assert f"{change}T20:00" in saturdays
    assert found == all_seen(night, *saturdays)
    assert {each.ends_at - each.starts_at for each in found} == {12 * HOUR}


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
@pytest.mark.parametrize("last", ["2027-11-07T01:30", "2027-11-21T01:30"])
def test_a_series_in_a_doubled_hour_meets_in_its_first_pass(last: str, reader: Reader) -> None:
    watch = series("2027-10-24T01:30", last)

    found = reader(written(watch))

    walls = ["2027-10-24T01:30", "2027-10-31T01:30", "2027-11-07T01:30", "2027-11-14T01:30", last]
    assert found == all_seen(watch, *sorted({wall for wall in walls if wall <= last}))


@pytest.mark.parametrize("reader", EXACT_EXPANDING)
@pytest.mark.parametrize("last", ["2027-11-07T01:30", "2027-11-14T01:30"])
def test_a_week_in_a_doubled_hour_is_skipped_moved_or_cancelled_as_any_other(
    last: str, reader: Reader
) -> None:
    change = "2027-11-07T01:30"
    skipping = series("2027-10-31T01:30", last, skipped=[change])
    watch = dataclasses.replace(series("2027-10-31T01:30", last), uid="another")
    late = local("2027-11-07T02:30", CHICAGO)
    moved = meeting(watch, change, starts_at=late, ends_at=late + HOUR)
    cancelled = dataclasses.replace(meeting(watch, change, cancelled=True), uid="a third")
    cancelling = dataclasses.replace(watch, uid="a third")

    found = reader(written(skipping, watch, moved, cancelling, cancelled))

    others = sorted({"2027-10-31T01:30", last} - {change})
    as_planned = [each for of in (skipping, watch, cancelling) for each in all_seen(of, *others)]
    assert found == sorted([*as_planned, seen(moved), seen(cancelled)])


@pytest.mark.parametrize("reader", EXACT_EXPANDING)
def test_a_series_that_begins_in_the_second_pass_of_a_doubled_hour(reader: Reader) -> None:
    second = local("2027-11-07T01:30", CHICAGO) + HOUR
    watch = dataclasses.replace(
        series("2027-11-07T01:30", "2027-11-21T01:30"), starts_at=second, ends_at=second + HOUR
    )

    found = reader(written(watch))

    assert found == [
        seen(dataclasses.replace(watch, weekly=None)),
        *all_seen(watch, "2027-11-14T01:30", "2027-11-21T01:30"),
    ]


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
@pytest.mark.parametrize("last", ["2027-03-15T00:00", "2027-03-21T02:30"])
def test_a_week_whose_hour_the_clocks_jump_over_has_no_meeting(last: str, reader: Reader) -> None:
    """Sundays at half past two; on 14 March two o'clock is three."""
    watch = series("2027-02-28T02:30", last, hours=1)

    found = reader(written(watch))

    walls = ["2027-02-28T02:30", "2027-03-07T02:30", "2027-03-21T02:30"]
    assert found == all_seen(watch, *(wall for wall in walls if wall <= last))


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
def test_a_meeting_moved_to_a_studio_with_other_clocks(reader: Reader) -> None:
    beads = series("2027-03-02T18:00", "2027-03-16T18:00")
    there = local("2027-03-11T09:00", PRAGUE)
    moved = meeting(
        beads,
        "2027-03-09T18:00",
        starts_at=there,
        ends_at=there + HOUR,
        zone=PRAGUE,
        series_zone=CHICAGO,
        location="Elsewhere",
    )

    content = written(beads, moved)

    assert "RECURRENCE-ID;TZID=America/Chicago:20270309T180000" in lines(content)
    assert "DTSTART;TZID=Europe/Prague:20270311T090000" in lines(content)
    assert reader(content) == [
        *all_seen(beads, "2027-03-02T18:00"),
        seen(moved),
        *all_seen(beads, "2027-03-16T18:00"),
    ]


def test_how_a_series_is_written() -> None:
    beads = series("2027-03-02T18:00", "2027-04-06T18:00", skipped=["2027-03-16T18:00", "2027-03-23T18:00"])
    content = lines(written(beads, meeting(beads, "2027-03-30T18:00", cancelled=True)))

    assert content.count("BEGIN:VEVENT") == 2
    assert [line for line in content if line.startswith(("RRULE:FREQ=W", "EXDATE", "RECURRENCE-ID"))] == [
        "RRULE:FREQ=WEEKLY;UNTIL=20270406T230000Z",
        "EXDATE;TZID=America/Chicago:20270316T180000",
        "EXDATE;TZID=America/Chicago:20270323T180000",
        "RECURRENCE-ID;TZID=America/Chicago:20270330T180000",
    ]
    assert "COUNT" not in "".join(content)


@pytest.mark.parametrize("reader", EVERY_EXPANDING)
def test_a_series_by_universal_time(reader: Reader) -> None:
    beads = series("2027-03-02T18:00", "2027-03-30T18:00", "UTC", skipped=["2027-03-09T18:00"])
    moved = meeting(beads, "2027-03-16T18:00", starts_at=beads.ends_at, ends_at=beads.ends_at + HOUR)
    cancelled = meeting(beads, "2027-03-23T18:00", cancelled=True)

    found = reader(written(beads, moved, cancelled))

    as_planned = all_seen(beads, "2027-03-02T18:00", "2027-03-30T18:00")
    assert found == sorted([*as_planned, seen(moved), seen(cancelled)])


def test_the_rules_of_a_zone_hold_to_the_last_year_of_a_series_and_from_long_before() -> None:
    """Morocco's clocks follow no rule, so each change is listed."""
    beads = series("2026-06-02T18:00", "2029-06-05T18:00", "Africa/Casablanca")
    content = lines(written(beads))

    years = {int(line[8:12]) for line in content if line.startswith("DTSTART:")}
    assert years == set(range(2018, 2030))


@pytest.mark.parametrize(
    ("first", "until", "zone", "expected"),
    [
        ("2027-03-07T18:00", "2027-03-21T18:00", CHICAGO, ["07 18:00", "14 18:00", "21 18:00"]),
        ("2027-03-07T18:00", "2027-03-21T17:59", CHICAGO, ["07 18:00", "14 18:00"]),
        ("2027-03-07T02:30", "2027-03-21T02:30", CHICAGO, ["07 02:30", "21 02:30"]),
        ("2027-03-07T18:00", "2027-03-07T18:00", CHICAGO, ["07 18:00"]),
    ],
)
def test_the_planned_starts_of_a_series(first: str, until: str, zone: str, expected: list[str]) -> None:
    found = planned_starts(local(first, zone), local(until, zone), zone)
    assert found == tuple(local(f"2027-03-{day.replace(' ', 'T')}", zone) for day in expected)
