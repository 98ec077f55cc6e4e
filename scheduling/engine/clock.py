"""Time at the edge of the engine: integer minutes since the epoch, UTC, and wall clocks turned into them.

Durations are elapsed time, so a change of clocks never lengthens a cooling curve.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise
from zoneinfo import ZoneInfo

from scheduling.errors import NaiveTime, NoSuchWallTime

EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
MINUTE = dt.timedelta(minutes=1)
MIDNIGHT = dt.time(0)
DAY = dt.timedelta(days=1)
MINUTES_A_DAY = 24 * 60


def floor_minutes(moment: dt.datetime) -> int:
    """The minute in which an instant lies. A time without a zone is refused."""
    if moment.tzinfo is None:
        raise NaiveTime(field="time", value=moment.isoformat())
    return (moment - EPOCH) // MINUTE


def ceil_minutes(moment: dt.datetime) -> int:
    """The first minute that does not begin before an instant. A time without a zone is refused."""
    return -floor_minutes(EPOCH + (EPOCH - moment)) if moment.tzinfo else floor_minutes(moment)


def moment(minute: int) -> dt.datetime:
    """The instant, in UTC, at which a minute begins."""
    return EPOCH + minute * MINUTE


def local(minute: int, zone: ZoneInfo) -> dt.datetime:
    """A minute as the clocks of a zone show it."""
    return moment(minute).astimezone(zone)


def wall_minutes(day: dt.date, time: dt.time, zone: ZoneInfo) -> int:
    """The minute at which the clocks of a zone show a wall time.

    A doubled wall time takes the first, unless `time.fold` is 1. A wall time that does not exist, because the
    clocks jump over it, is refused with the next one that does. Seconds do not count.
    """
    asked = dt.datetime.combine(day, time.replace(second=0, microsecond=0), zone)
    minute = floor_minutes(asked)
    if local(minute, zone).replace(tzinfo=None, fold=0) != asked.replace(tzinfo=None, fold=0):
        raise NoSuchWallTime(
            field="starts_at",
            asked=f"{asked:%Y-%m-%d %H:%M}",
            zone=zone.key,
            next=f"{local(_end_of_gap(minute, zone), zone):%Y-%m-%d %H:%M}",
        )
    return minute


def edge_minutes(day: dt.date, time: dt.time, zone: ZoneInfo) -> int:
    """The minute for an edge of opening hours: where the clocks jump over it, the end of the jump."""
    try:
        return wall_minutes(day, time, zone)
    except NoSuchWallTime:
        return _end_of_gap(floor_minutes(dt.datetime.combine(day, time, zone)), zone)


def _end_of_gap(inside: int, zone: ZoneInfo) -> int:
    """The minute of the jump itself, found from a wall time inside it (read with the offset before)."""
    before, after = inside - 26 * 60, inside
    offset = local(before, zone).utcoffset()
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (middle, after) if local(middle, zone).utcoffset() == offset else (before, middle)
    return after


def day_span(
    day: dt.date, opens: dt.time, closes: dt.time, zone: ZoneInfo, whole: tuple[int, int] | None = None
) -> tuple[int, int]:
    """A stretch of a day by the wall clock; an end at 00:00 is the midnight after it.

    `whole`: the day from midnight to midnight, where it is known. On a day of 24 hours the clocks stand still
    for no edge, so the edges are counted from its first midnight.
    """
    begin, end = whole or whole_day(day, zone)
    if end - begin == MINUTES_A_DAY:
        return begin + _of_day(opens), begin + (_of_day(closes) or MINUTES_A_DAY)
    return edge_minutes(day, opens, zone), edge_minutes(day, closes, zone) if closes != MIDNIGHT else end


def whole_day(day: dt.date, zone: ZoneInfo) -> tuple[int, int]:
    """A day by the wall clock, from midnight to midnight."""
    return edge_minutes(day, MIDNIGHT, zone), edge_minutes(day + DAY, MIDNIGHT, zone)


def _of_day(time: dt.time) -> int:
    return time.hour * 60 + time.minute


def days(from_min: int, to_min: int, zone: ZoneInfo) -> Iterator[dt.date]:
    """The local days that a span touches."""
    day, last = local(from_min, zone).date(), local(to_min - 1, zone).date()
    while day <= last:
        yield day
        day += DAY


def whole_days(from_min: int, to_min: int, zone: ZoneInfo) -> Iterator[tuple[dt.date, tuple[int, int]]]:
    """The local days that a span touches, each with its two midnights."""
    touched = list(days(from_min, to_min, zone))
    midnights = [
        edge_minutes(day, MIDNIGHT, zone) for day in (*touched, *(day + DAY for day in touched[-1:]))
    ]
    yield from zip(touched, pairwise(midnights), strict=True)


def clock_change(begin: int, end: int, zone: ZoneInfo) -> tuple[int, int]:
    """The minute in a span at which the clocks change, and by how many; its end where they do not."""
    old, new = (local(minute, zone).utcoffset() for minute in (begin, end - 1))
    if old is None or new is None or old == new:
        return end, 0
    before, after = begin, end - 1
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (middle, after) if local(middle, zone).utcoffset() == old else (before, middle)
    return after, (new - old) // MINUTE
