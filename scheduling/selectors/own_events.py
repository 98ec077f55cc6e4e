"""The events of a person's own calendar, found among classes, seats, firings and their loads."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

from django.db.models import Prefetch, Q, QuerySet

from scheduling.ical.event import CalendarEvent
from scheduling.models import BookingStatus, Firing, KilnJob, PersonSpan, Seat, Session
from scheduling.selectors.calendar_events import (
    ALARM_MIN,
    class_event,
    firing_event,
    job_ready_events,
    pick_up_event,
    seat_event,
    series_events,
    unloading_event,
)
from studios.models import Person

OWN_FIRINGS = ("loads__session__course", "loads__owner", "loads__job")


def own_events(
    person: Person,
    from_at: dt.datetime,
    to_at: dt.datetime,
    *,
    whole_series: bool = False,
    alarm_min: int | None = ALARM_MIN,
) -> Iterator[CalendarEvent]:
    """What touches a stretch of time, in no order; what was cancelled stays visible.

    Who teaches or assists sees the classes; who teaches also the firings that hold pieces of them, and their
    unloading. A student sees seats, and when the pieces of a class can be collected. Whoever has a kiln job
    sees its firings, and whoever has a piece in one when all of it is ready.
    """
    theirs = Session.objects.filter(Q(instructor=person) | Q(pk__in=person.assisted_sessions.values("pk")))
    yield from class_events(theirs, from_at, to_at, whole_series=whole_series)
    yield from map(seat_event, seats_of(person, from_at, to_at))
    yield from _firings_and_duties(person, from_at, to_at, alarm_min)
    yield from map(pick_up_event, _with_pieces_of(person, from_at, to_at))
    for job in _jobs_of(person, from_at, to_at):
        yield from job_ready_events(job)


def class_events(
    sessions: QuerySet[Session], from_at: dt.datetime, to_at: dt.datetime, *, whole_series: bool
) -> Iterator[CalendarEvent]:
    """Some sessions as events: each by itself, or a weekly class of which one meeting is met as one."""
    met = sessions.filter(starts_at__lt=to_at, ends_at__gt=from_at)
    if not whole_series:
        yield from map(class_event, whole_classes(met))
        return
    yield from map(class_event, whole_classes(met.filter(series__isnull=True)))
    weekly = set(met.filter(series__isnull=False).values_list("series", flat=True))
    theirs = set(sessions.filter(series__in=weekly).values_list("pk", flat=True))
    meetings: dict[int, list[Session]] = defaultdict(list)
    for session in whole_classes(Session.objects.filter(series__in=weekly)).select_related("series__studio"):
        meetings[session.series_id or 0].append(session)
    for every in meetings.values():
        series = every[0].series
        if series is not None:
            series.course = every[0].course
            yield from series_events(series, every, theirs=theirs, since=from_at)


def whole_classes(sessions: QuerySet[Session]) -> QuerySet[Session]:
    """With all that an event says, in a number of queries that does not grow.

    Hundreds of classes share a few courses, studios and people: each of these is read once.
    """
    spans = Prefetch("person_spans", queryset=PersonSpan.objects.order_by("pk"))
    said = sessions.prefetch_related("course", "studio", "instructor", "assistants", spans)
    return said.order_by("starts_at", "pk")


def seats_of(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Seat]:
    """The seats that a person has, or had and gave back; what was only kept is no engagement."""
    seats = Seat.objects.filter(
        person=person, kept_until__isnull=True, starts_at__lt=to_at, ends_at__gt=from_at
    )
    return seats.select_related("session__course", "session__instructor", "torch", "studio")


def firings_in(from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Firing]:
    """The firings that touch a stretch of time, until their shelves are empty."""
    return (
        Firing.objects.filter(last_in_at__lt=to_at)
        .filter(Q(occupancy__ends_at__gte=from_at) | Q(unload_at__gte=from_at))
        .select_related("equipment__studio", "occupancy")
        .prefetch_related(*OWN_FIRINGS)
        .distinct()
    )


def _firings_and_duties(
    person: Person, from_at: dt.datetime, to_at: dt.datetime, alarm_min: int | None
) -> Iterator[CalendarEvent]:
    """The firings with pieces of the person's own or of a class of theirs; who teaches it also unloads."""
    theirs = Q(loads__session__instructor=person) | Q(loads__owner=person)
    for firing in firings_in(from_at, to_at).filter(theirs):
        yield firing_event(firing)
        if any(load.session and load.session.instructor_id == person.pk for load in firing.loads.all()):
            yield unloading_event(firing, alarm_min=alarm_min)


def _with_pieces_of(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Firing]:
    """The firings with pieces of the classes that a person sits in."""
    seat = Q(loads__session__seat_rows__person=person, loads__session__seat_rows__status=BookingStatus.BOOKED)
    return firings_in(from_at, to_at).filter(seat)


def _jobs_of(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[KilnJob]:
    """The kiln jobs of a person, or with a piece of theirs, that are or were to be ready then."""
    theirs = KilnJob.objects.filter(Q(owner=person) | Q(pieces__maker=person)).order_by().values("pk")
    met = KilnJob.objects.filter(pk__in=theirs, ready_at__lt=to_at, ready_at__gte=from_at)
    fired = met.filter(loads__isnull=False).distinct().order_by("ready_at", "pk")
    return fired.prefetch_related("loads__firing__equipment__studio", "loads__firing__occupancy", "steps")
