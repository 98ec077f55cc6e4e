"""The hours of a calendar in which somebody is busy."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import ZoneInfo

import icalendar
import recurring_ical_events

from scheduling.errors import UnreadableCalendar
from scheduling.ical.reading.checks import check
from scheduling.ical.reading.lines import calendars

MOST_SPANS = 20_000
FOLD = re.compile(rb"\r?\n[ \t]")
NAMED = re.compile(
    rb"^UID(?:;[^:\r\n]*)?:[ \t]*([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})[ \t]*\r?$",
    re.IGNORECASE | re.MULTILINE,
)
Span = tuple[dt.datetime, dt.datetime]


@dataclass(frozen=True, kw_only=True)
class Window:
    """From when to when busy time is wanted, and by whose clocks floating times and whole days are read."""

    begin: dt.datetime
    end: dt.datetime
    zone: ZoneInfo


def busy_spans(content: bytes, window: Window, left_out: Collection[UUID] = ()) -> list[Span]:
    """All spans of busy time that meet a window, in UTC, in order, merged where they touch.

    An event that is transparent or cancelled takes no time, nor does one without length, nor one whose UID is
    `left_out`. Raises UnreadableCalendar; whoever passes what a stranger wrote does so through `apart`, which
    bounds its cost.
    """
    check(calendars(content))
    try:
        read = icalendar.Calendar.from_ical(content, multiple=True)
        for each in read:
            _leave_out(each, {str(uid) for uid in left_out})
        events = [event for each in read for event in _instances(each, window)]
    except UnreadableCalendar:
        raise
    except Exception as error:
        # Whatever a library does not make sense of after our own checks is refused, not guessed.
        reason = f"An event cannot be read ({type(error).__name__}: {str(error)[:120]})."
        raise UnreadableCalendar(line=1, reason=reason) from error
    spans = sorted(span for event in events if _takes_time(event) for span in _span(event, window))
    return list(_merged(spans))


def names_in(content: bytes) -> set[UUID]:
    """The events of a calendar that are named as ours are, by nothing but a UUID; whatever else is in it.

    It takes no more time than the file is long, and is not refused.
    """
    unfolded = FOLD.sub(b"", content)
    return {UUID(found[1].decode()) for found in NAMED.finditer(unfolded)}


def _leave_out(calendar: icalendar.Component, names: Collection[str]) -> None:
    if names:
        kept = [
            part for part in calendar.subcomponents if str(part.get("UID", "")).strip().lower() not in names
        ]
        calendar.subcomponents = kept


def _instances(calendar: icalendar.Component, window: Window) -> Iterator[icalendar.Event]:
    # Whole days and floating times are read by the window's own clocks, which may be a day ahead or behind.
    margin = dt.timedelta(days=2)
    found = recurring_ical_events.of(calendar).between(window.begin - margin, window.end + margin)
    if len(found) > MOST_SPANS:
        reason = f"It has more than {MOST_SPANS} events in the time that is read."
        raise UnreadableCalendar(line=1, reason=reason)
    return iter(found)


def _takes_time(event: icalendar.Event) -> bool:
    transparent = str(event.get("TRANSP", "OPAQUE")).upper() == "TRANSPARENT"
    return not transparent and str(event.get("STATUS", "CONFIRMED")).upper() != "CANCELLED"


def _span(event: icalendar.Event, window: Window) -> Iterator[Span]:
    begin, end = (_instant(moment, window.zone) for moment in (event.start, event.end))
    if begin < end and begin < window.end and window.begin < end:
        yield begin, end


def _instant(moment: dt.datetime | dt.date, zone: ZoneInfo) -> dt.datetime:
    if not isinstance(moment, dt.datetime):
        moment = dt.datetime.combine(moment, dt.time(0))
    return (moment if moment.tzinfo else moment.replace(tzinfo=zone)).astimezone(dt.UTC)


def _merged(spans: list[Span]) -> Iterator[Span]:
    held: Span | None = None
    for begin, end in spans:
        if held is not None and begin <= held[1]:
            held = held[0], max(held[1], end)
            continue
        if held is not None:
            yield held
        held = begin, end
    if held is not None:
        yield held
