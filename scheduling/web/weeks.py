"""ISO weeks and days as they stand in an address."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _

from scheduling.wording import dated as said_as

FIRST, LAST = dt.date(2000, 1, 3), dt.date(2199, 12, 20)


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """The days a sheet shows: an ISO week from its Monday, or one day."""

    first_day: dt.date
    day_count: int

    @property
    def label(self) -> str:
        if self.day_count == 1:
            return said_as(self.first_day, "l j F Y")
        iso = self.first_day.isocalendar()
        return _("Week %(week)s of %(year)s: %(days)s") % {
            "week": iso.week,
            "year": iso.year,
            "days": self._days,
        }

    @property
    def short_label(self) -> str:
        """A week as it is called among its neighbours: Week 48: 23 to 29 November."""
        week = self.first_day.isocalendar().week
        return _("Week %(week)s: %(days)s") % {"week": week, "days": self._days}

    @property
    def _days(self) -> str:
        last = self.first_day + dt.timedelta(days=self.day_count - 1)
        start = "j" if last.month == self.first_day.month else "j F"
        words = {"first": said_as(self.first_day, start), "last": said_as(last, "j F")}
        return _("%(first)s to %(last)s") % words

    @property
    def query(self) -> str:
        return f"day={self.first_day}" if self.day_count == 1 else f"week={week_name(self.first_day)}"

    def moved(self, steps: int) -> Stretch:
        """The same length, so many steps later."""
        first = self.first_day + dt.timedelta(days=steps * self.day_count)
        return Stretch(first_day=min(max(first, FIRST), LAST), day_count=self.day_count)


def week_name(day: dt.date) -> str:
    """The ISO week a day lies in, such as 2027-W10."""
    iso = day.isocalendar()
    return f"{iso.year}-W{iso.week:02}"


def week_of(day: dt.date) -> Stretch:
    """The week a day lies in, within the years the book knows."""
    inside = min(max(day, FIRST), LAST)
    return Stretch(first_day=inside - dt.timedelta(days=inside.weekday()), day_count=7)


def read_stretch(*, week: str, day: str, to: str, today: dt.date) -> tuple[Stretch, str]:
    """What an address asks for, and a sentence where it cannot be read; then it is this week."""
    try:
        if day:
            return Stretch(first_day=_known(dt.date.fromisoformat(day)), day_count=1), ""
        if to:
            return week_of(_known(dt.date.fromisoformat(to))), ""
        if week:
            return week_of(_known(_monday(week))), ""
    except ValueError:
        asked = day or to or week
        problem = _("“%(asked)s” is no week or day, such as 2027-W10 or 2027-03-09. This is this week.")
        return week_of(today), problem % {"asked": asked}
    return week_of(today), ""


def _monday(week: str) -> dt.date:
    year, number = week.upper().split("-W")
    return dt.date.fromisocalendar(int(year), int(number), 1)


def _known(day: dt.date) -> dt.date:
    if not FIRST <= day <= LAST:
        raise ValueError(day)
    return day
