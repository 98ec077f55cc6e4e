"""VTIMEZONE components (RFC 5545, 3.6.5), derived from the IANA rules.

Every change of clocks that comes back each year on the same weekday of the same week is written as one
RRULE. A change that does not is written as an observance of its own: some readers see only the first date
of an RDATE list. Onsets are wall times read with TZOFFSETFROM, as the standard has it.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from zoneinfo import ZoneInfo

from scheduling.ical.components import Component, Property, ValueType, text

# The Gregorian weekdays repeat after 28 years; a few more bridge a year that is no leap year, such as 2100.
RULE_YEARS = 40
DAY = dt.timedelta(days=1)
SECOND = dt.timedelta(seconds=1)
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
# Days of the month in which the nth weekday falls.
NTH_WEEK = {1: 1, 8: 2, 15: 3, 22: 4}

Rule = tuple[tuple[str, object], ...]


@dataclass(frozen=True, kw_only=True)
class Change:
    """The clocks change: the wall time at which they do, still by the old offset, and both offsets."""

    onset: dt.datetime
    offset_from: dt.timedelta
    offset_to: dt.timedelta
    name: str
    daylight: bool

    @property
    def signature(self) -> tuple[object, ...]:
        """What the same change of another year has in common with this one."""
        return (
            self.onset.weekday(),
            self.onset.time(),
            self.offset_from,
            self.offset_to,
            self.name,
            self.daylight,
        )


Observance = tuple[Change, Rule | None]


@lru_cache(maxsize=256)
def vtimezone(key: str, *, first_year: int, last_year: int) -> Component:
    """The rules of a zone for all instants from the start of one year to the end of another.

    Args:
        key: an IANA name, used as the TZID.
        first_year: rules hold from 1 January of this year.
        last_year: the last year for which changes that follow no rule are listed. Changes that do go on.
    """
    observances = (_observance(change, rule) for change, rule in _observances(key, first_year, last_year))
    return Component("vtimezone", (text("tzid", key),), tuple(observances))


def changes(zone: ZoneInfo, first_year: int, last_year: int) -> Iterator[Change]:
    """Every change of the clocks from the start of a year to the end of another, in order."""
    moment = dt.datetime(first_year, 1, 1, tzinfo=dt.UTC)
    end = dt.datetime(last_year + 1, 1, 1, tzinfo=dt.UTC)
    while moment < end:
        later = moment + DAY
        if moment.astimezone(zone).utcoffset() != later.astimezone(zone).utcoffset():
            yield _change_between(zone, moment, later)
        moment = later


def _change_between(zone: ZoneInfo, before: dt.datetime, after: dt.datetime) -> Change:
    """The change in a stretch of time that has one, by halving."""
    old = _offset(before.astimezone(zone))
    while after - before > SECOND:
        middle = before + (after - before) // 2
        before, after = (middle, after) if _offset(middle.astimezone(zone)) == old else (before, middle)
    after = after.replace(microsecond=0)
    was, will_be = (after - SECOND).astimezone(zone), after.astimezone(zone)
    return Change(
        onset=after.replace(tzinfo=None) + old,
        offset_from=old,
        offset_to=_offset(will_be),
        name=will_be.tzname() or zone.key,
        # Where winter counts as the exception (Ireland), the clocks still go forward into summer.
        daylight=_offset(will_be) > old and bool(was.dst() or will_be.dst()),
    )


def _offset(when: dt.datetime) -> dt.timedelta:
    return when.utcoffset() or dt.timedelta(0)


def _observances(key: str, first_year: int, last_year: int) -> list[Observance]:
    """Each rule with the change that opens it, each change that follows no rule, and what stood before them.

    The search begins a year early, so that a rule is already in force when the first year opens.
    """
    zone, end_year = ZoneInfo(key), max(first_year + RULE_YEARS, last_year)
    alike: dict[tuple[object, ...], list[Change]] = defaultdict(list)
    for change in changes(zone, first_year - 1, end_year):
        alike[change.signature].append(change)
    found: list[Observance] = []
    for group in alike.values():
        found += _rules(group, end_year) or [
            (change, None) for change in group if change.onset.year <= last_year
        ]
    if not any(change.onset.year < first_year for change, _ in found):
        found.append((_standing(zone, first_year - 1), None))
    return sorted(found, key=lambda each: each[0].onset)


def _rules(group: list[Change], end_year: int) -> list[Observance]:
    """The yearly rules that give exactly these changes for ever; none where they follow no rule.

    A week that runs over the end of a month makes two rules, one for each month.
    """
    years = [change.onset.year for change in group]
    if years != list(range(years[0], end_year + 1)) or len(years) < RULE_YEARS // 2:
        return []
    days = sorted({(change.onset.month, change.onset.day) for change in group})
    if len(days) != 7 or not _is_one_week(days):
        return []
    return [
        (next(change for change in group if change.onset.month == month), _rule(group[0], month, days))
        for month in sorted({month for month, _ in days})
    ]


def _is_one_week(days: list[tuple[int, int]]) -> bool:
    """Whether the days of the year follow one another; a 29 February never does, in most years."""
    if (2, 29) in days:
        return False
    ordinals = [dt.date(2001, month, day).toordinal() for month, day in days]
    return ordinals[-1] - ordinals[0] == 6


def _rule(change: Change, month: int, days: list[tuple[int, int]]) -> Rule:
    """The RRULE of one month's share of the week in which a change falls."""
    weekday = WEEKDAYS[change.onset.weekday()]
    in_month = [day for its_month, day in days if its_month == month]
    rule: Rule = (("FREQ", "YEARLY"), ("BYMONTH", month))
    if len(in_month) == 7 and in_month[0] in NTH_WEEK:
        return (*rule, ("BYDAY", f"{NTH_WEEK[in_month[0]]}{weekday}"))
    if len(in_month) == 7 and in_month[-1] == calendar.monthrange(2001, month)[1]:
        return (*rule, ("BYDAY", f"-1{weekday}"))
    days_of_month = tuple(in_month) if len(in_month) > 1 else in_month[0]
    return (*rule, ("BYMONTHDAY", days_of_month), ("BYDAY", weekday))


def _standing(zone: ZoneInfo, year: int) -> Change:
    """What the clocks show when a year opens, as an observance that began then."""
    start = dt.datetime(year, 1, 1, tzinfo=zone)
    return Change(
        onset=start.replace(tzinfo=None),
        offset_from=_offset(start),
        offset_to=_offset(start),
        name=start.tzname() or zone.key,
        daylight=(start.dst() or dt.timedelta(0)) > dt.timedelta(0),
    )


def _observance(change: Change, rule: Rule | None) -> Component:
    return Component(
        "daylight" if change.daylight else "standard",
        (
            Property("dtstart", ValueType.DATE_TIME, (change.onset,)),
            Property("tzoffsetfrom", ValueType.UTC_OFFSET, (change.offset_from,)),
            Property("tzoffsetto", ValueType.UTC_OFFSET, (change.offset_to,)),
            text("tzname", change.name),
            *([Property("rrule", ValueType.RECUR, (rule,))] if rule else []),
        ),
    )
