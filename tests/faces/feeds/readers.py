"""Readers of calendar files that know nothing of each other; each gives the same plain facts."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

import icalendar
import recurring_ical_events
import vobject


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
    """Read with icalendar, which keeps what it could not read as errors: there must be none."""
    calendar = icalendar.Calendar.from_ical(content)
    assert [component.errors for component in calendar.walk() if component.errors] == []
    return sorted(_of_component(event) for event in calendar.walk("VEVENT"))


def by_recurring_ical_events(content: bytes) -> list[Seen]:
    """Read as the occurrences of a span of years."""
    calendar = icalendar.Calendar.from_ical(content)
    return sorted(_of_component(event) for event in recurring_ical_events.of(calendar).between(2020, 2040))


def by_vobject(content: bytes) -> list[Seen]:
    """Read with vobject, which also validates and takes its zones from the file's own VTIMEZONE."""
    # It would rather use the zones of a file it has read before than those of this one.
    known = vars(vobject.icalendar)["__tzidMap"]
    for tzid in set(known) - {"UTC"}:
        del known[tzid]
    calendar = vobject.readOne(content.decode())
    assert calendar.validate(raiseException=True)
    return sorted(_of_vevent(event) for event in calendar.contents.get("vevent", []))


READERS = [by_icalendar, by_recurring_ical_events, by_vobject]


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


def _of_vevent(event: Any) -> Seen:
    start = event.dtstart.value
    assert type(start.tzinfo).__module__.startswith("dateutil"), "read by the VTIMEZONE in the file"
    return Seen(
        starts_at=_instant(start),
        ends_at=_instant(event.dtend.value if hasattr(event, "dtend") else start),
        uid=event.uid.value,
        title=event.summary.value,
        description=event.description.value,
        status=event.status.value,
        transparency=event.transp.value,
    )


def _instant(when: dt.datetime) -> dt.datetime:
    # Two times with the same zone object subtract by the wall clock: compare instants in UTC only.
    assert when.tzinfo is not None
    return when.astimezone(dt.UTC)
