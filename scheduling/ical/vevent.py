"""One event as a component of a calendar: RFC 5545, with the colours of RFC 7986."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from scheduling.ical.components import Component, Property, ValueType, by_the_clocks, in_utc, text
from scheduling.ical.event import CalendarEvent, Weekly
from scheduling.ical.weekly import is_doubled, last_pass, missing_walls, over_a_change

# By category, as CSS names them, of our own choice: warm for what is hot, cool for what is not.
COLORS = {
    "class": "darkorange",
    "firing": "firebrick",
    "charge": "orangered",
    "duty": "steelblue",
    "seat": "seagreen",
    "pick-up": "slateblue",
    "outage": "dimgray",
}


def vevent(event: CalendarEvent, address: str = "", parties: tuple[Property, ...] = ()) -> Component:
    """One event, with the address of its page and those whom it concerns."""
    url = [Property("url", ValueType.URI, (address,))] if address else []
    return Component(
        "vevent",
        (*_identity(event), *_times(event), *_what(event), *url, *parties),
        () if event.alarm_min is None or event.cancelled else (_alarm(event, event.alarm_min),),
    )


def zones(event: CalendarEvent) -> set[str]:
    """The zones by whose clocks its times are written."""
    return {_zone_of_ends(event)} | ({_zone_of_series(event)} if event.stands_for else set())


def _identity(event: CalendarEvent) -> Iterator[Property]:
    """SEQUENCE, DTSTAMP and LAST-MODIFIED tell of its last change and of nothing else."""
    yield text("uid", event.uid)
    if event.stands_for:
        yield by_the_clocks("recurrence-id", event.stands_for, _zone_of_series(event))
    yield Property("sequence", ValueType.INTEGER, (event.sequence,))
    yield in_utc("dtstamp", event.changed_at)
    yield in_utc("last-modified", event.changed_at)


def _times(event: CalendarEvent) -> Iterator[Property]:
    """Both ends, and when it comes back.

    The first meeting of a series may lie over a change of clocks. Its end would give the others a wrong
    length where it is read by the wall clock, and another wrong one where it is not: so its length is said.
    """
    zone, length = _zone_of_ends(event), event.length
    yield by_the_clocks("dtstart", event.starts_at, zone)
    if event.weekly and over_a_change(event.starts_at, event.ends_at, zone):
        yield Property("duration", ValueType.DURATION, (length,))
    elif length:
        yield by_the_clocks("dtend", event.ends_at, zone)
    if event.weekly:
        yield from _repetition(event, event.weekly)


def _zone_of_ends(event: CalendarEvent) -> str:
    """The clocks of the place; UTC where they are read wrongly, but for a series, which stays by them."""
    if event.weekly:
        return _zone_of_series(event)
    doubled = is_doubled(event.starts_at, event.zone) or is_doubled(event.ends_at, event.zone)
    return "UTC" if doubled else event.zone


def _zone_of_series(event: CalendarEvent) -> str:
    """A series has clocks even by universal time: some readers find no meeting of it by the time in UTC."""
    zone = event.series_zone or event.zone
    return "Etc/UTC" if zone == "UTC" else zone


def _repetition(event: CalendarEvent, weekly: Weekly) -> Iterator[Property]:
    """The last start in UTC, and the weeks left out in the form of DTSTART.

    A reader that takes a doubled hour for its second pass must still find the last start before the end.
    """
    zone, until = _zone_of_series(event), last_pass(weekly.until, event.zone)
    yield Property("rrule", ValueType.RECUR, ((("FREQ", "WEEKLY"), ("UNTIL", until)),))
    for skipped in weekly.skipped:
        yield by_the_clocks("exdate", skipped, zone)
    for wall in missing_walls(event.starts_at, weekly.until, event.zone):
        yield Property("exdate", ValueType.DATE_TIME, (wall,), (("tzid", zone),))


def _what(event: CalendarEvent) -> Iterator[Property]:
    yield text("summary", event.title)
    yield text("description", event.description)
    yield text("location", event.location)
    if event.geo:
        yield Property("geo", ValueType.FLOAT, event.geo)
    yield text("categories", event.kind.value)
    yield text("color", COLORS[event.kind.value])
    yield text("status", "CANCELLED" if event.cancelled else "CONFIRMED")
    yield text("transp", "OPAQUE" if event.opaque and not event.cancelled else "TRANSPARENT")


def _alarm(event: CalendarEvent, minutes_before: int) -> Component:
    trigger = Property("trigger", ValueType.DURATION, (dt.timedelta(minutes=-minutes_before),))
    return Component("valarm", (text("action", "DISPLAY"), text("description", event.title), trigger))
