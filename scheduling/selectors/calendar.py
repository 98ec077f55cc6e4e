"""A person's calendar: classes, seats, the firings that follow, unloading and pick-up."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from scheduling.engine import clock
from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarEvent
from scheduling.ical.writer import CalendarFile
from scheduling.selectors import calendar_events
from scheduling.snapshot import FIRST_YEAR, LAST_YEAR
from studios.models import Person, Studio

# A subscription shows the last four weeks and the half year to come.
PAST_DAYS, COMING_DAYS = 28, 182


def events_of(*, person: Person, from_at: dt.datetime, to_at: dt.datetime) -> list[CalendarEvent]:
    """What touches the half-open window, in order of time; what was cancelled stays visible.

    Who teaches or assists sees the classes; who teaches also the firings that hold pieces of them, and their
    unloading. A student sees seats, and when the pieces of a class can be collected.
    """
    found = [
        *calendar_events.classes(person, from_at, to_at),
        *calendar_events.seats(person, from_at, to_at),
        *calendar_events.firings_and_duties(person, from_at, to_at),
        *calendar_events.pick_ups(person, from_at, to_at),
    ]
    met = (event for event in found if event.meets(from_at, to_at))
    return sorted(met, key=lambda event: (event.starts_at, event.kind, event.uid))


def rolling_calendar(*, person: Person, now: dt.datetime) -> CalendarFile:
    """What a subscription shows; its window moves on at the person's midnight, not between."""
    today = now.astimezone(home_zone(person)).date()
    first, last = today - dt.timedelta(days=PAST_DAYS), today + dt.timedelta(days=COMING_DAYS)
    return CalendarFile(
        name=f"Lehrbook: {person.name}",
        description="Classes, seats, firings, unloading and pick-up.",
        events=_events_of_days(person, first, last),
    )


def week_calendar(*, person: Person, year: int, week: int) -> CalendarFile:
    """One ISO week, Monday to Sunday by the person's clocks, to keep. A week that is none is refused."""
    monday = _monday(year, week)
    return CalendarFile(
        name=f"Lehrbook: {person.name}, {year}-W{week:02d}",
        description=f"The week from Monday {monday}.",
        events=_events_of_days(person, monday, monday + dt.timedelta(days=6)),
    )


def home_zone(person: Person) -> ZoneInfo:
    """The clocks by which a person's days begin: those of the first studio they belong to, else UTC."""
    studio = Studio.objects.filter(memberships__person=person).order_by("name").first()
    return studio.zone if studio else ZoneInfo("UTC")


def _events_of_days(person: Person, first_day: dt.date, last_day: dt.date) -> list[CalendarEvent]:
    zone, day_after = home_zone(person), last_day + dt.timedelta(days=1)
    start = clock.edge_minutes(first_day, clock.MIDNIGHT, zone)
    end = clock.edge_minutes(day_after, clock.MIDNIGHT, zone)
    return events_of(person=person, from_at=clock.moment(start), to_at=clock.moment(end))


def _monday(year: int, week: int) -> dt.date:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InvalidInput(
            field="week", problem=f"The book goes from {FIRST_YEAR} to {LAST_YEAR}; choose a week in it."
        )
    try:
        return dt.date.fromisocalendar(year, week, 1)
    except ValueError as error:
        problem = f"There is no week {week} in {year}; write 2027-W10."
        raise InvalidInput(field="week", problem=problem) from error
