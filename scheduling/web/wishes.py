"""The wish that is filled in already: what was booked last, the coming weeks, all one's studios."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from django.http import QueryDict
from django.utils import timezone

from scheduling.models import Course, Session
from scheduling.selectors.last_class import last_class
from scheduling.web.weeks import FIRST, LAST
from studios.models import Person, Studio

DAYS, WEEK, WEEKS = 21, 7, 6
EVENING = dt.time(18)


def class_wish(asked: QueryDict, person: Person, studios: Sequence[Studio]) -> QueryDict:
    """A class as the address asks for it, else as before: on the coming days, or on those it names.

    Without a course nothing is asked for yet.
    """
    if "course" in asked:
        return asked
    last = last_class(person, studios)
    there = [studio for studio in studios if studio.slug == asked.get("studio")] or list(studios)
    if last is not None and not any(studio in last.course.studios.all() for studio in there):
        last = None
    first, until = _days(asked, _tomorrow(studios[0]))
    return _wish(
        last,
        person,
        studios=[studio.slug for studio in there],
        first_day=str(first),
        last_day=str(until),
    )


def _days(asked: QueryDict, tomorrow: dt.date) -> tuple[dt.date, dt.date]:
    """The day or the week that a sheet names, as far as it is still to come; else the coming weeks."""
    day = _day(asked.get("day", ""))
    if day is None:
        return tomorrow, tomorrow + dt.timedelta(days=DAYS - 1)
    if asked.get("days") != str(WEEK):
        return day, day
    until = day + dt.timedelta(days=WEEK - 1)
    return max(day, min(tomorrow, until)), until


def weekly_wish(asked: QueryDict, person: Person, studios: Sequence[Studio]) -> QueryDict:
    """A weekly class as the address asks for it, also where it asks for a single one; else as before."""
    if "course" not in asked:
        return _weekly_as_before(person, studios)
    wish = asked.copy()
    if "studio" not in wish and "studios" in wish:
        course = Course.objects.filter(slug=wish["course"]).first()
        taught_at = {studio.slug for studio in course.studios.all()} if course is not None else set()
        there = [slug for slug in wish.getlist("studios") if slug in taught_at]
        wish["studio"] = (there or wish.getlist("studios"))[0]
    wish.setdefault("weeks", str(WEEKS))
    return wish


def _weekly_as_before(person: Person, studios: Sequence[Studio]) -> QueryDict:
    last = last_class(person, studios)
    studio = last.studio if last is not None else studios[0]
    first = _tomorrow(studio)
    if last is not None:
        weekday = last.starts_at.astimezone(studio.zone).weekday()
        first += dt.timedelta(days=(weekday - first.weekday()) % 7)
    return _wish(last, person, studio=studio.slug, first_day=str(first), weeks=str(WEEKS))


def _wish(last: Session | None, person: Person, **asked: str | list[str]) -> QueryDict:
    """The wish with its course, its time and who teaches it taken from a class."""
    wish = QueryDict(mutable=True)
    usual = {"instructor": str(person.uid), "time": f"{EVENING:%H:%M}"}
    if last is not None:
        usual |= _of(last)
    given: Mapping[str, str | list[str]] = {**usual, **asked}
    for name, value in given.items():
        wish.setlist(name, value if isinstance(value, list) else [value])
    return wish


def _of(last: Session) -> dict[str, str]:
    return {
        "course": last.course.slug,
        "instructor": str(last.instructor.uid),
        "time": f"{last.starts_at.astimezone(last.studio.zone):%H:%M}",
    }


def _tomorrow(studio: Studio) -> dt.date:
    return timezone.now().astimezone(studio.zone).date() + dt.timedelta(days=1)


def _day(text: str) -> dt.date | None:
    """A day of the book; whatever else an address says is passed over."""
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return day if FIRST <= day <= LAST else None
