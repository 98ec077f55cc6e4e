"""Events into a calendar file: RFC 5545 with the names and refresh times of RFC 7986, or the same as jCal.

What one event looks like is kept by its value, so that a calendar of which little has changed is joined from
what is known, and not written anew.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from scheduling.ical.components import Component, Property, ValueType, in_utc, text
from scheduling.ical.event import CalendarEvent, CalendarFile, Link
from scheduling.ical.json_form import as_json
from scheduling.ical.text_form import written
from scheduling.ical.timezones import vtimezone
from scheduling.ical.vevent import vevent, zones
from scheduling.ical.weekly import laid_out

PRODID = "-//Lehrbook//Calendar 1//EN"
REFRESH = dt.timedelta(hours=1)
# As many events as a few dozen long calendars have; each takes a kilobyte or two.
KEPT_EVENTS = 16_384
KEPT_ZONES = 256
DAY = dt.timedelta(days=1)
# A common reader asks years before 2020 whether a zone is UTC; London's winter alone would tell it so.
RULES_FROM = 2019

Form = Callable[[Component], bytes]


def calendar_bytes(file: CalendarFile, link: Link | None = None) -> bytes:
    """The file: UTF-8, lines ended by CRLF and folded at 75 octets. The same events give the same bytes.

    `link` gives the address of an event's page, where addresses are known.
    """
    begin, end = written(Component("vcalendar", tuple(_head(file)))).split(b"END:", 1)
    return begin + b"".join(_inside(file, link, written)) + b"END:" + end


def jcal_text(file: CalendarFile, link: Link | None = None) -> str:
    """The same file as JSON (RFC 7265)."""
    begin = _compact(Component("vcalendar", tuple(_head(file)))).removesuffix(b"]]")
    return (begin + b",".join(_inside(file, link, _compact)) + b"]]").decode()


def product() -> tuple[Property, ...]:
    """What every calendar begins with."""
    return text("version", "2.0"), text("prodid", PRODID), text("calscale", "GREGORIAN")


def zone_rules(events: Iterable[CalendarEvent]) -> list[bytes]:
    """The rules of every zone by whose clocks the events are written, for all years that they touch."""
    return _zone_rules((_years(event) for event in events), written)


def _head(file: CalendarFile) -> Iterator[Property]:
    yield from product()
    yield text("name", file.name)
    yield text("description", file.description)
    if file.color:
        yield text("color", file.color)
    if file.url:
        yield Property("url", ValueType.URI, (file.url,))
    if file.changed_at:
        yield in_utc("last-modified", file.changed_at)
    yield Property("refresh-interval", ValueType.DURATION, (REFRESH,))


@dataclass(frozen=True, slots=True)
class _Years:
    """The zones by whose clocks an event is written, and the years for which their rules must hold."""

    zones: tuple[str, ...]
    first: int
    last: int


# A calendar has at least one component in it (RFC 5545, 3.4), also where nothing is booked.
NOTHING_BOOKED = _Years(zones=("Etc/UTC",), first=RULES_FROM, last=RULES_FROM)


@dataclass(frozen=True, slots=True)
class _Kept:
    """One event as it was written, with what the calendar around it must know."""

    content: bytes
    years: _Years


def _inside(file: CalendarFile, link: Link | None, form: Form) -> list[bytes]:
    kept = [_kept(event, link(event) if link and event.page else "", form) for event in laid_out(file.events)]
    years = [each.years for each in kept] or [NOTHING_BOOKED]
    return [*_zone_rules(years, form), *(each.content for each in kept)]


@lru_cache(maxsize=KEPT_EVENTS)
def _kept(event: CalendarEvent, address: str, form: Form) -> _Kept:
    return _Kept(content=form(vevent(event, address)), years=_years(event))


def _years(event: CalendarEvent) -> _Years:
    """A day more on either side: where it is New Year depends on the zone."""
    moments = [event.starts_at, event.ends_at, event.stands_for, event.weekly and event.weekly.until]
    told = [moment.astimezone(dt.UTC) for moment in moments if moment]
    return _Years(
        zones=tuple(sorted(zones(event) - {"UTC"})),
        first=(min(told) - DAY).year,
        last=(max(told) + DAY).year,
    )


def _zone_rules(all_years: Iterable[_Years], form: Form) -> list[bytes]:
    spans: dict[str, tuple[int, int]] = {}
    for years in all_years:
        for zone in years.zones:
            first, last = spans.get(zone, (years.first, years.last))
            spans[zone] = min(first, years.first), max(last, years.last)
    return [_zone(zone, min(first, RULES_FROM), last, form) for zone, (first, last) in sorted(spans.items())]


@lru_cache(maxsize=KEPT_ZONES)
def _zone(name: str, first_year: int, last_year: int, form: Form) -> bytes:
    return form(vtimezone(name, first_year=first_year, last_year=last_year))


def _compact(component: Component) -> bytes:
    return json.dumps(as_json(component), ensure_ascii=False, separators=(",", ":")).encode()
