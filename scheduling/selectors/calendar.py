"""A person's calendar: what touches a window, and a week, a month, a term or one event as a file to keep."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from scheduling.engine import clock
from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarEvent, CalendarFile
from scheduling.models import BookingStatus, SeatStatus, Session
from scheduling.selectors.calendar_events import ALARM_MIN, class_event, seat_event
from scheduling.selectors.own_events import own_events, whole_classes
from scheduling.snapshot import FIRST_YEAR, LAST_YEAR
from studios.models import Person, Studio, Term
from studios.said import said
from studios.selectors import studios_of

# A subscription shows the last four weeks and the half year to come.
PAST_DAYS, COMING_DAYS = 28, 182


@dataclass(frozen=True, kw_only=True)
class Window:
    """Whole days by some clocks, as instants: half-open."""

    from_at: dt.datetime
    to_at: dt.datetime


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
    return within(found, from_at, to_at)


def within(events: Iterable[CalendarEvent], from_at: dt.datetime, to_at: dt.datetime) -> list[CalendarEvent]:
    """What meets the window, and what belongs to a weekly class that does; always in the same order."""
    met = (event for event in events if _is_of_series(event) or event.meets(from_at, to_at))
    return sorted(met, key=lambda event: (event.starts_at, event.kind, event.uid))


def _is_of_series(event: CalendarEvent) -> bool:
    return event.weekly is not None or event.stands_for is not None


def rolling_window(zone: ZoneInfo, now: dt.datetime) -> Window:
    """What a subscription shows; it moves on at midnight by these clocks, not between."""
    today = now.astimezone(zone).date()
    return window_of(today - dt.timedelta(days=PAST_DAYS), today + dt.timedelta(days=COMING_DAYS), zone)


def next_midnight(zone: ZoneInfo, now: dt.datetime) -> dt.datetime:
    """When the next day begins by some clocks; where they jump over midnight, right after the jump."""
    tomorrow = now.astimezone(zone).date() + dt.timedelta(days=1)
    return clock.moment(clock.edge_minutes(tomorrow, clock.MIDNIGHT, zone))


def window_of(first_day: dt.date, last_day: dt.date, zone: ZoneInfo) -> Window:
    """Days from the first to the last, both whole."""
    start, _ = clock.whole_day(first_day, zone)
    _, end = clock.whole_day(last_day, zone)
    return Window(from_at=clock.moment(start), to_at=clock.moment(end))


def week_calendar(*, person: Person, year: int, week: int) -> CalendarFile:
    """One ISO week, Monday to Sunday by the person's clocks, to keep. A week that is none is refused."""
    monday = _monday(year, week)
    name, said = f"{year}-W{week:02d}", f"The week from Monday {monday}."
    return _file(person, name, said, monday, monday + dt.timedelta(days=6), home_zone(person))


def month_calendar(*, person: Person, year: int, month: int) -> CalendarFile:
    """One month by the person's clocks, to keep. A month that is none is refused."""
    _require_in_book("month", year)
    if not 1 <= month <= 12:
        raise InvalidInput(
            field="month", problem=said("There is no month {month}; write 2027-02.", month=month)
        )
    first = dt.date(year, month, 1)
    last = first.replace(day=calendar.monthrange(year, month)[1])
    return _file(person, f"{first:%Y-%m}", f"{first:%B %Y}.", first, last, home_zone(person))


def term_calendar(*, person: Person, term: Term) -> CalendarFile:
    """A person's own events in a term of a studio, by the clocks there, to keep."""
    said = f"{term.name} at {term.studio.name}, {term.first_day} to {term.last_day}."
    return _file(person, term.name, said, term.first_day, term.last_day, term.studio.zone)


def seat_calendar(*, person: Person, uid: UUID) -> CalendarFile | None:
    """A booked seat of a person's own as one event, to keep; what is only kept for them is no engagement."""
    booked = person.seats.filter(uid=uid, status=SeatStatus.BOOKED)
    seat = booked.select_related("studio", "torch", "session__course", "session__instructor").first()
    return None if seat is None else _one_event(seat_event(seat))


def class_calendar(*, person: Person, uid: UUID) -> CalendarFile | None:
    """A class that takes place as one event, to keep, for whoever sees its page."""
    seen = Session.objects.filter(uid=uid, studio__in=studios_of(person), status=BookingStatus.BOOKED)
    session = whole_classes(seen).first()
    return None if session is None else _one_event(class_event(session))


def _one_event(event: CalendarEvent) -> CalendarFile:
    return CalendarFile(name=f"Lehrbook: {event.title}", description=event.title, events=[event])


def terms_ahead(person: Person, today: dt.date) -> QuerySet[Term]:
    """The terms of a person's studios that are not over."""
    terms = Term.objects.filter(studio__in=studios_of(person), last_day__gte=today)
    return terms.select_related("studio").order_by("first_day", "studio__name", "pk")


def home_of(person: Person) -> Studio | None:
    """The studio by whose clocks a person's days begin: the first that they belong to."""
    return Studio.objects.filter(memberships__person=person).order_by("name").first()


def home_zone(person: Person) -> ZoneInfo:
    """Its clocks; UTC for whoever belongs to none."""
    home = home_of(person)
    return home.zone if home else ZoneInfo("UTC")


def _file(
    person: Person, name: str, said: str, first_day: dt.date, last_day: dt.date, zone: ZoneInfo
) -> CalendarFile:
    """Each meeting of a weekly class by itself: what is kept is of these days alone."""
    window = window_of(first_day, last_day, zone)
    events = events_of(person=person, from_at=window.from_at, to_at=window.to_at)
    return CalendarFile(name=f"Lehrbook: {person.name}, {name}", description=said, events=events)


def _require_in_book(field: str, year: int) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        raise InvalidInput(
            field=field,
            problem=said(
                "The book goes from {first_year} to {last_year}; choose a {field} in it.",
                first_year=FIRST_YEAR,
                last_year=LAST_YEAR,
                field=field,
            ),
        )


def _monday(year: int, week: int) -> dt.date:
    _require_in_book("week", year)
    try:
        return dt.date.fromisocalendar(year, week, 1)
    except ValueError as error:
        problem = f"There is no week {week} in {year}; write 2027-W10."
        raise InvalidInput(field="week", problem=problem) from error
