"""Calendars that somebody keeps elsewhere, for tests."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from zoneinfo import ZoneInfo

from scheduling.errors import UnfetchableCalendar
from scheduling.ical.reading.fetch import Fetched
from scheduling.models import OtherCalendar
from scheduling.services.other_calendars import add_file, add_link, read_file
from studios.models import Person
from tests.worlds import ZONE

LINK = "https://calendars.example/secret-3f9c/basic.ics"


def event(starts: dt.datetime, ends: dt.datetime, *more: str, uid: str = "") -> str:
    """One event by the clocks of the test town."""
    zone = f"TZID={ZONE.key}"
    lines = [
        "BEGIN:VEVENT",
        f"UID:{uid or f'{starts:%d%H%M}@elsewhere.example'}",
        "DTSTAMP:20310101T000000Z",
        f"DTSTART;{zone}:{starts.astimezone(ZONE):%Y%m%dT%H%M%S}",
        f"DTEND;{zone}:{ends.astimezone(ZONE):%Y%m%dT%H%M%S}",
        "SUMMARY:A tooth",
        *more,
        "END:VEVENT",
    ]
    return "\r\n".join(lines)


def calendar(*events: str) -> bytes:
    """A calendar of some events."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//elsewhere//EN", *events, "END:VCALENDAR", ""]
    return "\r\n".join(lines).encode()


def by_file(person: Person, *events: str, label: str = "home") -> OtherCalendar:
    """A calendar that somebody has given as a file."""
    reading = read_file(actor=person, content=calendar(*events))
    return add_file(actor=person, label=label, reading=reading)


def by_link(person: Person, label: str = "home", link: str = LINK) -> OtherCalendar:
    """A calendar that somebody has given by its link."""
    return add_link(actor=person, label=label, link=link)


def hours_of(calendar: OtherCalendar, zone: ZoneInfo = ZONE) -> list[str]:
    """The hours that a calendar takes, by the clocks of the test town."""
    rows = calendar.spans.values_list("starts_at", "ends_at")
    spans = ((since.astimezone(zone), until.astimezone(zone)) for since, until in rows)
    return [f"{since:%a %d %H:%M} to {until:%a %d %H:%M}" for since, until in spans]


class Elsewhere:
    """The server where a calendar lies: what it answers, and what it was asked."""

    def __init__(self, *events: str, etag: str = '"one"') -> None:
        self.asked: list[tuple[str, str]] = []
        self.says(*events, etag=etag)

    def says(self, *events: str, etag: str = '"one"') -> None:
        """From now on it has these events."""
        self.answers(lambda known: _unless_known(calendar(*events), etag, known))

    def says_bytes(self, content: bytes, etag: str = '"odd"') -> None:
        self.answers(lambda known: _unless_known(content, etag, known))

    def is_away(self) -> None:
        """From now on nobody answers."""
        self.answers(_nobody)

    def answers(self, answer: Callable[[str], Fetched]) -> None:
        self._answer = answer

    def fetch(self, link: str, *, etag: str = "", last_modified: str = "") -> Fetched:
        """In the place of `scheduling.ical.reading.fetch.fetch`."""
        self.asked.append((link, etag or last_modified))
        return self._answer(etag)


def _unless_known(content: bytes, etag: str, known: str) -> Fetched:
    return Fetched(content=None if known and known == etag else content, etag=etag, last_modified="")


def _nobody(_known: str) -> Fetched:
    raise UnfetchableCalendar(reason="there is no server calendars.example")
