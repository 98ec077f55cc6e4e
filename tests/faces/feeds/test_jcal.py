"""The same calendar as JSON (RFC 7265): what ical.js makes of the text, and icalendar reads back."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from typing import Any

import icalendar
import pytest

from scheduling.ical.event import CalendarEvent, CalendarFile, EventKind, Weekly
from scheduling.ical.writer import calendar_bytes, jcal_text
from tests.faces.feeds.node_readers import as_jcal
from tests.faces.feeds.readers import by_icalendar
from tests.faces.feeds.samples import FIRING, event, local

CHICAGO, CAIRO = "America/Chicago", "Africa/Cairo"
BEADS = event(
    uid="beads",
    title='Beads, "twice"; ½ inch\\n',
    description="first\nsecond",
    opaque=True,
    starts_at=local("2027-03-02T18:00", CHICAGO),
    ends_at=local("2027-03-02T21:00", CHICAGO),
    geo=(44.978, -93.2650001),
    alarm_min=30,
    weekly=Weekly(until=local("2027-03-30T18:00", CHICAGO), skipped=(local("2027-03-09T18:00", CHICAGO),)),
)
MOVED = dataclasses.replace(
    BEADS,
    weekly=None,
    stands_for=local("2027-03-16T18:00", CHICAGO),
    starts_at=local("2027-03-17T18:00", CHICAGO),
    ends_at=local("2027-03-17T20:00", CHICAGO),
)
# Newer than ical.js knows (RFC 7986); what it does not know it calls unknown, and leaves as it is written.
NEWER = ("name", "color")


def calendar(*events: CalendarEvent) -> CalendarFile:
    return CalendarFile(
        name="Vera; a week",
        description="Classes, firings.",
        events=events,
        url="https://lehrbook.test/calendars",
        color="teal",
        changed_at=FIRING.changed_at,
    )


def address(event: CalendarEvent) -> str:
    return f"https://lehrbook.test/{event.page[0]}/?a=1,2;b"


def known(component: Any) -> Any:
    """A component with newer properties read as the text that they are."""
    name, properties, inside = component
    for each in properties:
        if each[0] in NEWER:
            assert each[2] == "unknown"
            each[2:] = ["text", each[3].replace("\\;", ";")]
    return [name, properties, [known(each) for each in inside]]


@pytest.mark.node
@pytest.mark.parametrize(
    "events",
    [
        [],
        [FIRING],
        [BEADS, MOVED],
        [event(zone=CAIRO, kind=EventKind.DUTY, alarm_min=90), event(zone="Asia/Kolkata", uid="b")],
        [event(zone="UTC", cancelled=True, title="", description="", location="")],
        [event(zone="Africa/Casablanca", geo=(-33.0, 7.25))],
    ],
    ids=["nothing", "one firing", "a series", "two zones", "universal time", "changes that follow no rule"],
)
def test_it_is_what_ical_js_makes_of_the_text(events: list[CalendarEvent]) -> None:
    file = calendar(*events)

    assert json.loads(jcal_text(file, address)) == known(as_jcal(calendar_bytes(file, address)))


def test_icalendar_reads_the_same_events_from_both() -> None:
    file = calendar(FIRING, BEADS, MOVED, event(uid="b", zone=CAIRO, cancelled=True))

    text, read = calendar_bytes(file, address), icalendar.Calendar.from_jcal(jcal_text(file, address))

    assert [component.errors for component in read.walk() if component.errors] == []
    assert by_icalendar(read.to_ical()) == by_icalendar(text)


def test_how_each_type_is_written() -> None:
    name, head, inside = json.loads(jcal_text(calendar(BEADS)))
    _, properties, (alarm,) = inside[1]

    assert name == "vcalendar"
    assert ["last-modified", {}, "date-time", "2027-02-01T09:30:15Z"] in head
    assert ["refresh-interval", {}, "duration", "PT1H"] in head
    for written in (
        ["dtstart", {"tzid": "America/Chicago"}, "date-time", "2027-03-02T18:00:00"],
        ["rrule", {}, "recur", {"freq": "WEEKLY", "until": "2027-03-30T23:00:00Z"}],
        ["exdate", {"tzid": "America/Chicago"}, "date-time", "2027-03-09T18:00:00"],
        ["summary", {}, "text", 'Beads, "twice"; ½ inch\\n'],
        ["description", {}, "text", "first\nsecond"],
        ["sequence", {}, "integer", 2],
        ["geo", {}, "float", [44.978, -93.265]],
        ["categories", {}, "text", "firing"],
    ):
        assert written in properties
    assert ["trigger", {}, "duration", "-PT30M"] in alarm[1]
    (daylight, _) = inside[0][2]
    assert daylight[1][1:3] == [
        ["tzoffsetfrom", {}, "utc-offset", "-06:00"],
        ["tzoffsetto", {}, "utc-offset", "-05:00"],
    ]
    assert daylight[1][4] == [
        "rrule", {}, "recur", {"freq": "YEARLY", "bymonth": 3, "byday": "2SU"},
    ]  # fmt: skip


def test_the_same_events_give_the_same_text() -> None:
    assert jcal_text(calendar(FIRING)) == jcal_text(calendar(event()))
    assert jcal_text(calendar(FIRING)) != jcal_text(calendar(event(changed_at=dt.datetime.now(dt.UTC))))
