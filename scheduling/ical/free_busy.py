"""Nothing of a calendar but the hours that are taken (RFC 5545, 3.6.4)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from scheduling.ical.components import Component, Property, ValueType, in_utc, text
from scheduling.ical.event import CalendarFile
from scheduling.ical.text_form import written
from scheduling.ical.weekly import single
from scheduling.ical.writer import product

Span = tuple[dt.datetime, dt.datetime]


def free_busy_bytes(file: CalendarFile, *, uid: str, from_at: dt.datetime, to_at: dt.datetime) -> bytes:
    """The hours between two instants in which somebody is taken, in UTC; what for is not said.

    It is stamped by the last change of the file, so that the same hours give the same bytes.
    """
    changes = [event.changed_at for event in file.events]
    changed_at = file.changed_at or max(changes, default=from_at)
    taken = (
        Property("freebusy", ValueType.PERIOD, (span,), (("fbtype", "BUSY"),))
        for span in busy_spans(file, from_at, to_at)
    )
    window = in_utc("dtstart", from_at), in_utc("dtend", to_at)
    inside = Component("vfreebusy", (text("uid", uid), in_utc("dtstamp", changed_at), *window, *taken))
    return written(Component("vcalendar", product(), (inside,)))


def busy_spans(file: CalendarFile, from_at: dt.datetime, to_at: dt.datetime) -> Iterator[Span]:
    """The hours that opaque events take that are not cancelled, within the window; none touches another."""
    spans = sorted(
        (max(event.starts_at, from_at).astimezone(dt.UTC), min(event.ends_at, to_at).astimezone(dt.UTC))
        for event in single(file.events)
        if event.opaque and not event.cancelled
    )
    begin = end = None
    for starts_at, ends_at in spans:
        if starts_at >= ends_at:
            continue
        if end is not None and begin is not None and starts_at > end:
            yield begin, end
            begin = end = None
        begin, end = begin or starts_at, max(end or ends_at, ends_at)
    if begin is not None and end is not None:
        yield begin, end
