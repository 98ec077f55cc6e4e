"""When the demo's term lies: across a change of clocks, and always in the time to come."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from scheduling.engine.clock import moment, wall_minutes

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DAY = dt.timedelta(days=1)
WEEK = dt.timedelta(weeks=1)
LONGEST_SEARCH_DAYS = 400


@dataclass(frozen=True, kw_only=True)
class Term:
    """A term by its first Monday; its weeks are counted from 1."""

    monday: dt.date

    def day(self, week: int, weekday: str) -> dt.date:
        """The date of a weekday in a week of the term."""
        return self.monday + (week - 1) * WEEK + WEEKDAYS.index(weekday) * DAY

    def moment(self, week: int, weekday: str, time: dt.time, zone: ZoneInfo) -> dt.datetime:
        """The instant at which the studio's clock shows a time in a week of the term."""
        return moment(wall_minutes(self.day(week, weekday), time, zone))


def next_change(zone: ZoneInfo, from_day: dt.date) -> dt.date:
    """The first local day, from `from_day` on, in which the clocks of the zone change.

    Raises ValueError where they do not change within the next 400 days.
    """
    for number in range(LONGEST_SEARCH_DAYS):
        day = from_day + number * DAY
        if _offset(day, zone) != _offset(day + DAY, zone):
            return day
    raise ValueError(f"the clocks of {zone.key} do not change")


def term_around(change: dt.date, week_of_the_change: int) -> Term:
    """The term that has a change of clocks in the given one of its weeks."""
    monday = change - change.weekday() * DAY
    return Term(monday=monday - (week_of_the_change - 1) * WEEK)


def _offset(day: dt.date, zone: ZoneInfo) -> dt.timedelta | None:
    return dt.datetime.combine(day, dt.time(0), zone).utcoffset()
