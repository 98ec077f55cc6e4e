"""A weekly series by the clocks of its place, and the meetings of it that readers would not agree on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from zoneinfo import ZoneInfo

from scheduling.ical.event import CalendarEvent

WEEK = dt.timedelta(days=7)


@lru_cache(maxsize=4096)
def planned_starts(first: dt.datetime, until: dt.datetime, zone: str) -> tuple[dt.datetime, ...]:
    """Every start of a weekly series, as instants: the same weekday at the same time by the clocks of a zone.

    A week in which the clocks jump over that time has no start (RFC 5545, 3.3.10); where they show it twice,
    the first pass counts, but for the first start of all, which is as given.
    """
    walls = _walls(first, until, zone)
    return first.astimezone(dt.UTC), *(
        start for wall in walls[1:] if (start := _instant(wall, zone)) and start <= until
    )


def missing_walls(first: dt.datetime, until: dt.datetime, zone: str) -> tuple[dt.datetime, ...]:
    """The wall times of a series that do not exist. Some readers take them for the hour after."""
    return tuple(wall for wall in _walls(first, until, zone)[1:] if _instant(wall, zone) is None)


def _walls(first: dt.datetime, until: dt.datetime, zone: str) -> Sequence[dt.datetime]:
    """The same time by the wall clock each week, whether or not the clocks show it, from the first one on."""
    wall, last = (_wall(end, zone) for end in (first, until))
    return [wall + number * WEEK for number in range((last - wall) // WEEK + 1)]


def _wall(moment: dt.datetime, zone: str) -> dt.datetime:
    return moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None, fold=0)


def _instant(wall: dt.datetime, zone: str) -> dt.datetime | None:
    """When the clocks show a time for the first time; None where they jump over it."""
    start = wall.replace(tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
    return start if _wall(start, zone) == wall else None


def is_doubled(moment: dt.datetime, zone: str) -> bool:
    """Whether the clocks show this time twice.

    A local time there means the first pass (RFC 5545, 3.3.5), but some readers take it for the second.
    """
    local = moment.astimezone(ZoneInfo(zone))
    return local.replace(fold=0).utcoffset() != local.replace(fold=1).utcoffset()


def last_pass(moment: dt.datetime, zone: str) -> dt.datetime:
    """The last instant at which the clocks show what they show at this one."""
    return moment.astimezone(ZoneInfo(zone)).replace(fold=1).astimezone(dt.UTC)


def over_a_change(starts_at: dt.datetime, ends_at: dt.datetime, zone: str) -> bool:
    """Whether a meeting is longer or shorter by the wall clock than it is."""
    clocks = ZoneInfo(zone)
    return starts_at.astimezone(clocks).utcoffset() != ends_at.astimezone(clocks).utcoffset()


def laid_out(events: Iterable[CalendarEvent]) -> Iterator[CalendarEvent]:
    """The events as they are written: a series is followed by its meetings that are written by themselves."""
    events = tuple(events)
    told = {(event.uid, event.stands_for) for event in events if event.stands_for}
    for event in events:
        yield event
        if event.weekly:
            yield from (each for each in _odd_meetings(event) if (each.uid, each.stands_for) not in told)


@lru_cache(maxsize=4096)
def _odd_meetings(series: CalendarEvent) -> tuple[CalendarEvent, ...]:
    """The meetings of a series over a change of clocks, or with an end in a doubled hour, each by itself.

    Readers differ in where a repeated event ends then, and which of two hours a local time means.
    """
    return tuple(
        each
        for each in meetings(series)
        if over_a_change(each.starts_at, each.ends_at, each.zone)
        or is_doubled(each.starts_at, each.zone)
        or is_doubled(each.ends_at, each.zone)
    )


def meetings(series: CalendarEvent) -> Iterator[CalendarEvent]:
    """Every planned meeting of a series that is not skipped, as an event that stands for it."""
    weekly = series.weekly
    if weekly is None:
        return
    for start in planned_starts(series.starts_at, weekly.until, series.zone):
        if start not in weekly.skipped:
            end = start + series.length
            yield replace(series, weekly=None, stands_for=start, starts_at=start, ends_at=end)


def single(events: Iterable[CalendarEvent]) -> Iterator[CalendarEvent]:
    """The same events, the series taken apart into the meetings that nothing else stands for."""
    events = tuple(events)
    told = {(event.uid, event.stands_for) for event in events if event.stands_for}
    for event in events:
        if event.weekly is None:
            yield event
        else:
            yield from (each for each in meetings(event) if (each.uid, each.stands_for) not in told)
