"""Nothing but the hours that are taken, as two readers see them."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import pytest
import vobject

from scheduling.ical.event import CalendarEvent, CalendarFile, Weekly
from scheduling.ical.free_busy import free_busy_bytes
from tests.faces.feeds.samples import event, lines, local

CHICAGO = "America/Chicago"
FROM_AT, TO_AT = local("2027-03-01T00:00", CHICAGO), local("2027-04-01T00:00", CHICAGO)


EVENING, MORNING = "02 18:00 to 02 21:00", "03 09:00 to 03 10:00"


def march(day_and_time: str) -> dt.datetime:
    return local(f"2027-03-{day_and_time.replace(' ', 'T')}", CHICAGO)


def taking(begin: str, end: str, **facts: Any) -> CalendarEvent:
    """An event of March that takes its hours."""
    return event(**{"starts_at": march(begin), "ends_at": march(end), "opaque": True, **facts})


def written(*events: CalendarEvent) -> bytes:
    file = CalendarFile(name="Vera", description="", events=events)
    return free_busy_bytes(file, uid="taken", from_at=FROM_AT, to_at=TO_AT)


def taken(*events: CalendarEvent) -> list[str]:
    """The hours that both readers see, by the clocks of Chicago."""
    content = written(*events)
    spans = spans_by_icalendar(content)
    assert spans == spans_by_vobject(content)
    return [" to ".join(f"{end.astimezone(ZoneInfo(CHICAGO)):%d %H:%M}" for end in span) for span in spans]


def spans_by_icalendar(content: bytes) -> list[tuple[dt.datetime, ...]]:
    (component,) = icalendar.Calendar.from_ical(content).walk("VFREEBUSY")
    assert component.errors == []
    found = component.get("freebusy", [])
    return [(each.start, each.end) for each in (found if isinstance(found, list) else [found])]


def spans_by_vobject(content: bytes) -> list[tuple[dt.datetime, ...]]:
    calendar = vobject.readOne(content.decode())
    assert calendar.validate(raiseException=True)
    return [span for each in calendar.vfreebusy.contents.get("freebusy", []) for span in each.value]


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([], []),
        ([taking("02 18:00", "02 21:00")], ["02 18:00 to 02 21:00"]),
        ([taking("02 18:00", "02 21:00", opaque=False)], []),
        ([taking("02 18:00", "02 21:00", cancelled=True)], []),
        ([taking("02 18:00", "02 18:00")], []),
        ([taking("03 09:00", "03 10:00"), taking("02 18:00", "02 21:00")], [EVENING, MORNING]),
        ([taking("02 18:00", "02 21:00"), taking("02 21:00", "02 22:00")], ["02 18:00 to 02 22:00"]),
        ([taking("02 18:00", "02 21:00"), taking("02 19:00", "02 20:00")], ["02 18:00 to 02 21:00"]),
        ([taking("13 20:00", "14 08:00")], ["13 20:00 to 14 08:00"]),
    ],
)  # fmt: skip
def test_the_hours_that_are_taken(events: list[CalendarEvent], expected: list[str]) -> None:
    assert taken(*events) == expected


def test_what_reaches_over_the_window_is_cut_there() -> None:
    before = event(starts_at=FROM_AT - dt.timedelta(hours=2), ends_at=march("01 01:00"), opaque=True)
    after = event(starts_at=march("31 23:00"), ends_at=TO_AT + dt.timedelta(hours=1), opaque=True)
    outside = event(starts_at=TO_AT, ends_at=TO_AT + dt.timedelta(hours=1), opaque=True)

    assert taken(before, after, outside) == ["01 00:00 to 01 01:00", "31 23:00 to 01 00:00"]


def test_a_series_takes_the_hours_of_its_meetings() -> None:
    """Tuesdays; the second is skipped, the third moved, the fourth cancelled, the fifth beyond the window."""
    beads = taking(
        "02 18:00",
        "02 20:00",
        weekly=Weekly(until=local("2027-04-06T18:00", CHICAGO), skipped=(march("09 18:00"),)),
    )
    moved = taking("17 10:00", "17 11:00", stands_for=march("16 18:00"))
    cancelled = dataclasses.replace(
        beads, weekly=None, stands_for=march("23 18:00"), starts_at=march("23 18:00"), cancelled=True
    )

    found = taken(beads, moved, cancelled)

    assert found == ["02 18:00 to 02 20:00", "17 10:00 to 17 11:00", "30 18:00 to 30 20:00"]


def test_it_says_nothing_but_hours_and_its_own_last_change() -> None:
    later = dt.datetime(2027, 2, 5, 8, 0, tzinfo=dt.UTC)
    content = lines(written(taking("02 18:00", "02 21:00"), taking("03 18:00", "03 21:00", changed_at=later)))

    assert content[4:-3] == [
        "BEGIN:VFREEBUSY",
        "UID:taken",
        "DTSTAMP:20270205T080000Z",
        "DTSTART:20270301T060000Z",
        "DTEND:20270401T050000Z",
        "FREEBUSY;FBTYPE=BUSY:20270303T000000Z/20270303T030000Z",
        "FREEBUSY;FBTYPE=BUSY:20270304T000000Z/20270304T030000Z",
    ]
