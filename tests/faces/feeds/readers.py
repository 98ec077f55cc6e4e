"""Readers of calendar files that know nothing of each other; each gives the same plain facts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events
import vobject
from ical.calendar_stream import IcsCalendarStream


@dataclass(frozen=True, kw_only=True, order=True)
class Seen:
    """What a calendar program would show of one event."""

    starts_at: dt.datetime
    ends_at: dt.datetime
    uid: str
    title: str
    description: str
    status: str
    transparency: str


def by_icalendar(content: bytes) -> list[Seen]:
    """Read with icalendar, event by event: a series is the one meeting that it begins with."""
    return sorted(_of_component(event) for event in _without_errors(content).walk("VEVENT"))


def by_recurring_ical_events(content: bytes) -> list[Seen]:
    """Read as the occurrences of a span of years."""
    calendar = _without_errors(content)
    return sorted(_of_component(event) for event in recurring_ical_events.of(calendar).between(2020, 2040))


def by_vobject(content: bytes) -> list[Seen]:
    """Read with vobject, which also validates and takes its zones from the file's own VTIMEZONE.

    It lays out the rule of a series; which meetings stand for planned ones, a reader has to see for itself.
    """
    # It would rather use the zones of a file it has read before than those of this one.
    known = vars(vobject.icalendar)["__tzidMap"]
    for tzid in set(known) - {"UTC"}:
        del known[tzid]
    calendar = vobject.readOne(content.decode())
    assert calendar.validate(raiseException=True)
    events = calendar.contents.get("vevent", [])
    told = {
        (event.uid.value, _instant(event.recurrence_id.value))
        for event in events
        if hasattr(event, "recurrence_id")
    }
    return sorted(
        _of_vevent(event, start)
        for event in events
        for start in event.rruleset or [event.dtstart.value]
        if not hasattr(event, "rrule") or (event.uid.value, _instant(start)) not in told
    )


def by_ical(content: bytes) -> list[Seen]:
    """Read with ical, the strictest about types, as a timeline."""
    return sorted(
        Seen(
            starts_at=_instant(event.start),
            ends_at=_instant(event.end),
            uid=event.uid,
            title=event.summary or "",
            description=event.description or "",
            status=event.status.value if event.status else "",
            transparency=event.transparency or "",
        )
        for event in IcsCalendarStream.calendar_from_ics(content.decode()).timeline
    )


READERS = [by_icalendar, by_recurring_ical_events, by_vobject, by_ical]
# Those that lay out a series into its meetings.
EXPANDING = READERS[1:]


def _without_errors(content: bytes) -> icalendar.Calendar:
    """icalendar keeps what it could not read as errors: there must be none."""
    calendar = icalendar.Calendar.from_ical(content)
    assert [component.errors for component in calendar.walk() if component.errors] == []
    return calendar


def _of_component(event: Any) -> Seen:
    return Seen(
        starts_at=_instant(event.start),
        ends_at=_instant(event.end),
        uid=str(event["uid"]),
        title=str(event["summary"]),
        description=str(event["description"]),
        status=str(event["status"]),
        transparency=str(event["transp"]),
    )


def _of_vevent(event: Any, start: dt.datetime) -> Seen:
    first = event.dtstart.value
    by_the_file = type(first.tzinfo).__module__.startswith("dateutil")
    assert by_the_file or _is_utc(event.dtstart), "read by the VTIMEZONE in the file"
    if hasattr(event, "dtend"):
        length = event.dtend.value - first
    else:
        length = event.duration.value if hasattr(event, "duration") else dt.timedelta(0)
    end = start + length if start != first or not hasattr(event, "dtend") else event.dtend.value
    return Seen(
        starts_at=_instant(start),
        ends_at=_instant(end),
        uid=event.uid.value,
        title=event.summary.value,
        description=event.description.value,
        status=event.status.value,
        transparency=event.transp.value,
    )


def _is_utc(start: Any) -> bool:
    """Whether the clocks show universal time in every month: such a zone vobject would rather look up."""
    zone = ZoneInfo(start.params["X-VOBJ-ORIGINAL-TZID"][0])
    months = (dt.datetime(start.value.year, month, 1, tzinfo=zone) for month in range(1, 13))
    return not any(month.utcoffset() for month in months)


def _instant(when: dt.date) -> dt.datetime:
    # Two times with the same zone object subtract by the wall clock: compare instants in UTC only.
    assert isinstance(when, dt.datetime)
    assert when.tzinfo is not None
    return when.astimezone(dt.UTC)
