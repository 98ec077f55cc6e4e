"""The days that a weekly class might leave out: public holidays, and days on which the studio is closed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from studios.models import Studio
from studios.public_holidays import public_holidays

WEEK = dt.timedelta(days=7)
# A class that would meet on closed days for more than a year on end is not put off any further.
MOST_PROPOSED = 53


@dataclass(frozen=True, kw_only=True)
class Skip:
    """A day that might be left out, and why."""

    day: dt.date
    reason: str


def proposed_skips(studio: Studio, first_day: dt.date, weeks: int) -> list[Skip]:
    """Of so many weekly meetings, the days that would be left out; each one left out adds a week at the end.

    It is a proposal: on a holiday nothing hinders a class, if somebody is there.
    """
    last = first_day + WEEK * (weeks + MOST_PROPOSED)
    known = public_holidays(studio.holiday_country, studio.holiday_region, first_day, last)
    known |= _closed(studio, first_day, last)
    found: list[Skip] = []
    day, left = first_day, weeks
    while left and len(found) < MOST_PROPOSED:
        if day in known:
            found.append(Skip(day=day, reason=known[day]))
        else:
            left -= 1
        day += WEEK
    return found


def _closed(studio: Studio, first: dt.date, last: dt.date) -> dict[dt.date, str]:
    closures = studio.closures.filter(first_day__lte=last, last_day__gte=first)
    found = {}
    for closure in closures:
        day = max(closure.first_day, first)
        while day <= min(closure.last_day, last):
            found[day] = f"closed: {closure.reason}"
            day += dt.timedelta(days=1)
    return found
