"""A weekly series by the clocks of its place."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

WEEK = dt.timedelta(days=7)


def planned_starts(first: dt.datetime, until: dt.datetime, zone: str) -> tuple[dt.datetime, ...]:
    """Every start of a weekly series, as instants: the same weekday at the same time by the clocks of a zone.

    A week in which the clocks jump over that time has no start (RFC 5545, 3.3.10); where they show it twice,
    the first pass counts, but for the first start of all, which is as given.
    """
    clocks = ZoneInfo(zone)
    wall = first.astimezone(clocks).replace(tzinfo=None, fold=0) + WEEK
    found = [first.astimezone(dt.UTC)]
    while (start := wall.replace(tzinfo=clocks).astimezone(dt.UTC)) <= until:
        if start.astimezone(clocks).replace(tzinfo=None) == wall:
            found.append(start)
        wall += WEEK
    return tuple(found)
