"""Events into a calendar file: RFC 5545 with the names and refresh times of RFC 7986."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import icalendar

from scheduling.ical.event import CalendarEvent, CalendarFile, Link
from scheduling.ical.timezones import vtimezone

PRODID = "-//Lehrbook//Calendar 1//EN"
REFRESH = dt.timedelta(hours=1)
# Text may hold no control characters but tab and line feed (RFC 5545, 3.1 and 3.3.11).
CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
LINE_ENDS = re.compile(r"\r\n?|[\x0b\x0c\x85\u2028\u2029]")


def calendar_bytes(file: CalendarFile, link: Link | None = None) -> bytes:
    """The file: UTF-8, lines ended by CRLF and folded at 75 octets. The same events give the same bytes.

    `link` gives the address of an event's page, where addresses are known.
    """
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODID)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", icalendar.vText(plain(file.name)))
    calendar.add("description", icalendar.vText(plain(file.description)))
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for zone in sorted({event.zone for event in file.events if not _in_a_doubled_hour(event)}):
        calendar.add_component(_zone_rules(zone, file.events))
    for event in file.events:
        calendar.add_component(vevent(event, link))
    return calendar.to_ical()


def vevent(event: CalendarEvent, link: Link | None = None) -> icalendar.Event:
    """One event. SEQUENCE, DTSTAMP and LAST-MODIFIED tell of its last change and of nothing else."""
    component = icalendar.Event()
    component.add("uid", event.uid)
    component.add("sequence", event.sequence)
    for stamp in ("dtstamp", "last-modified"):
        component.add(stamp, event.changed_at.astimezone(dt.UTC))
    component.add("summary", plain(event.title))
    component.add("description", plain(event.description))
    component.add("location", plain(event.location))
    component.add("categories", [event.kind.value])
    component.add("status", "CANCELLED" if event.cancelled else "CONFIRMED")
    component.add("transp", "OPAQUE" if event.opaque and not event.cancelled else "TRANSPARENT")
    _add_ends(component, event)
    if link and event.page:
        component.add("url", link(event))
    if event.alarm_min is not None and not event.cancelled:
        component.add_component(_alarm(event, event.alarm_min))
    return component


def plain(text: str) -> str:
    """Text as a calendar may carry it: every kind of line end a line feed, no control characters."""
    return CONTROLS.sub("", LINE_ENDS.sub("\n", text))


def _add_ends(component: icalendar.Event, event: CalendarEvent) -> None:
    """Both ends by the clocks of the place, or both in UTC where those clocks would be read wrongly."""
    zone = dt.UTC if _in_a_doubled_hour(event) else ZoneInfo(event.zone)
    component.add("dtstart", event.starts_at.astimezone(zone))
    if event.ends_at > event.starts_at:
        component.add("dtend", event.ends_at.astimezone(zone))


def _in_a_doubled_hour(event: CalendarEvent) -> bool:
    """Whether an end lies where the clocks show the same time twice.

    A local time there means the first pass (RFC 5545, 3.3.5), but some readers take it for the second.
    """
    zone = ZoneInfo(event.zone)
    ends = (event.starts_at.astimezone(zone), event.ends_at.astimezone(zone))
    return any(end.replace(fold=0).utcoffset() != end.replace(fold=1).utcoffset() for end in ends)


def _zone_rules(zone: str, events: Sequence[CalendarEvent]) -> icalendar.Timezone:
    ends = [end.astimezone(ZoneInfo(zone)) for each in events for end in (each.starts_at, each.ends_at)]
    return vtimezone(zone, first_year=min(ends).year, last_year=max(ends).year)


def _alarm(event: CalendarEvent, minutes_before: int) -> icalendar.Alarm:
    alarm = icalendar.Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("trigger", dt.timedelta(minutes=-minutes_before))
    alarm.add("description", plain(event.title))
    return alarm
