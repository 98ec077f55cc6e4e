"""A person's calendar: classes, seats, the firings that follow, unloading and pick-up."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from zoneinfo import ZoneInfo

from scheduling.engine import clock
from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarEvent
from scheduling.ical.writer import CalendarFile
from scheduling.selectors.calendar_events import ALARM_MIN
from scheduling.selectors.own_events import own_events
from scheduling.snapshot import FIRST_YEAR, LAST_YEAR
from studios.models import Person, Studio

# A subscription shows the last four weeks and the half year to come.
PAST_DAYS, COMING_DAYS = 28, 182


def events_of(
    *,
    person: Person,
    from_at: dt.datetime,
    to_at: dt.datetime,
    whole_series: bool = False,
    alarm_min: int | None = ALARM_MIN,
) -> list[CalendarEvent]:
    """What of a person's touches the half-open window, in order of time.

    Each meeting of a weekly class stands by itself; or, with `whole_series`, the class as one event, with all
    its meetings, also those outside the window.
    """
    found = own_events(person, from_at, to_at, whole_series=whole_series, alarm_min=alarm_min)
    return in_order(event for event in found if is_of_series(event) or event.meets(from_at, to_at))


def in_order(events: Iterable[CalendarEvent]) -> list[CalendarEvent]:
    """Always the same for the same events."""
    return sorted(events, key=lambda event: (event.starts_at, event.kind, event.uid))


def is_of_series(event: CalendarEvent) -> bool:
    return event.weekly is not None or event.stands_for is not None


def rolling_calendar(*, person: Person, now: dt.datetime) -> CalendarFile:
    """What a subscription shows; its window moves on at the person's midnight, not between."""
    today = now.astimezone(home_zone(person)).date()
    first, last = today - dt.timedelta(days=PAST_DAYS), today + dt.timedelta(days=COMING_DAYS)
    return CalendarFile(
        name=f"Lehrbook: {person.name}",
        description="Classes, seats, firings, unloading and pick-up.",
        events=_events_of_days(person, first, last, whole_series=True),
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


def _events_of_days(
    person: Person, first_day: dt.date, last_day: dt.date, *, whole_series: bool = False
) -> list[CalendarEvent]:
    zone, day_after = home_zone(person), last_day + dt.timedelta(days=1)
    start = clock.edge_minutes(first_day, clock.MIDNIGHT, zone)
    end = clock.edge_minutes(day_after, clock.MIDNIGHT, zone)
    return events_of(
        person=person, from_at=clock.moment(start), to_at=clock.moment(end), whole_series=whole_series
    )


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
