"""How fast a calendar of 1,000 events is written again when a few have changed. `make bench` measures.

Beside it stands the icalendar library, which builds and serialises the same events from scratch.
"""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

import icalendar
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.ical import writer
from scheduling.ical.event import CalendarEvent, CalendarFile, EventKind
from scheduling.ical.vevent import COLORS
from scheduling.ical.writer import calendar_bytes
from tests.faces.feeds.readers import by_icalendar as read_by_icalendar

EVENTS, CHANGED = 1000, 5
FIRST = dt.datetime(2027, 1, 4, 18, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
PLACES = ("America/Chicago", "Europe/Prague", "Australia/Lord_Howe")


def event(number: int, sequence: int = 0) -> CalendarEvent:
    """Made anew each time, as from a row: no two are the same object."""
    place = number % len(PLACES)
    starts_at = FIRST + number * 4 * HOUR
    return CalendarEvent(
        uid=f"7b0d5d3e-5c6c-4f0c-9d0f-{number:012}",
        kind=list(EventKind)[number % len(EventKind)],
        title=f"Evening blowing, seat {number}; příprava",
        description=f"Holding at 510 °C, cool enough to open from 10:40.\nUnloading: {number}, 20 minutes.",
        location=f"Quillback Hot Shop {place}, 4 Ferry Lane, Tarn Hollow",
        zone=PLACES[place],
        starts_at=starts_at,
        ends_at=starts_at + 3 * HOUR,
        sequence=sequence,
        changed_at=FIRST + sequence * HOUR,
        opaque=bool(number % 2),
        geo=(44.978, -93.265),
        page=("session", str(number)),
    )


def asked_again_and_again() -> Iterator[CalendarFile]:
    """The same calendar, a few events of which have changed each time."""
    draw, sequences = random.Random(1), [0] * EVENTS
    while True:
        for number in draw.sample(range(EVENTS), CHANGED):
            sequences[number] += 1
        events = [event(number, sequence) for number, sequence in enumerate(sequences)]
        yield CalendarFile(name="Vera", description="Everything.", events=events)


def address(event: CalendarEvent) -> str:
    return f"https://lehrbook.test/sessions/{event.page[1]}/"


def by_us(file: CalendarFile) -> bytes:
    return calendar_bytes(file, address)


def by_icalendar(file: CalendarFile) -> bytes:
    """The same file, built and serialised with the library; it is spared the rules of the zones."""
    calendar = icalendar.Calendar()
    calendar.add("prodid", writer.PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", file.name)
    calendar.add("description", file.description)
    calendar.add("refresh-interval", writer.REFRESH, parameters={"VALUE": "DURATION"})
    for each in file.events:
        calendar.add_component(as_component(each))
    return calendar.to_ical()


def as_component(event: CalendarEvent) -> icalendar.Event:
    component, zone = icalendar.Event(), ZoneInfo(event.zone)
    component.add("uid", event.uid)
    component.add("sequence", event.sequence)
    component.add("dtstamp", event.changed_at)
    component.add("last-modified", event.changed_at)
    component.add("dtstart", event.starts_at.astimezone(zone))
    component.add("dtend", event.ends_at.astimezone(zone))
    component.add("summary", event.title)
    component.add("description", event.description)
    component.add("location", event.location)
    component.add("geo", event.geo)
    component.add("categories", [event.kind.value])
    component.add("color", COLORS[event.kind.value])
    component.add("status", "CONFIRMED")
    component.add("transp", "OPAQUE" if event.opaque else "TRANSPARENT")
    component.add("url", address(event))
    return component


def measured(benchmark: BenchmarkFixture, write: Callable[[CalendarFile], bytes], rounds: int) -> bytes:
    """Each round writes the calendar as it has become since; the first one is not counted."""
    files = asked_again_and_again()
    written: bytes = benchmark.pedantic(
        write, setup=lambda: ((next(files),), {}), rounds=rounds, warmup_rounds=1
    )
    return written


@pytest.fixture(scope="module", autouse=True)
def both_write_the_same() -> None:
    file = next(asked_again_and_again())
    assert read_by_icalendar(by_us(file)) == read_by_icalendar(by_icalendar(file))


def test_calendar_of_a_thousand_events_of_which_five_have_changed(benchmark: BenchmarkFixture) -> None:
    assert measured(benchmark, by_us, rounds=50).count(b"BEGIN:VEVENT") == EVENTS


def test_calendar_of_a_thousand_events_never_written_before(benchmark: BenchmarkFixture) -> None:
    def afresh(file: CalendarFile) -> bytes:
        writer._kept.cache_clear()
        return by_us(file)

    assert measured(benchmark, afresh, rounds=5).count(b"BEGIN:VEVENT") == EVENTS


def test_calendar_of_a_thousand_events_by_the_icalendar_library(benchmark: BenchmarkFixture) -> None:
    assert measured(benchmark, by_icalendar, rounds=5).count(b"BEGIN:VEVENT") == EVENTS
