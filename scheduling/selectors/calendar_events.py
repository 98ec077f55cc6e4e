"""The events of a person's calendar, read from sessions, seats, firings and their loads.

Every end is read from what is stored, so a feed shows what the sheet shows.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from typing import Any

from django.db.models import Q, QuerySet

from scheduling.ical.event import CalendarEvent, EventKind
from scheduling.models import BookingStatus, Firing, Seat, Session
from scheduling.selectors.seats import seats_taken
from scheduling.wording import degrees, when
from studios.models import Person, Studio
from studios.thermal import Recipe

# Somebody who has to be at a kiln wants to hear of it in time to get there.
UNLOADING_ALARM_MIN = 30
CANCELLED = BookingStatus.CANCELLED


def classes(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> Iterator[CalendarEvent]:
    """The classes that a person teaches or assists in."""
    theirs = Q(instructor=person) | Q(pk__in=person.assisted_sessions.values("pk"))
    sessions = (
        Session.objects.filter(theirs, starts_at__lt=to_at, ends_at__gt=from_at)
        .select_related("course", "studio", "instructor")
        .prefetch_related("booking__occupancies__equipment", "assistants")
        .annotate(seats_taken=seats_taken())
    )
    for session in sessions:
        yield CalendarEvent(
            uid=str(session.uid),
            kind=EventKind.CLASS,
            title=session.course.name,
            description="\n".join(_class_lines(session, session.seats_taken)),
            location=_place(session.studio),
            zone=session.studio.time_zone,
            starts_at=session.starts_at,
            ends_at=session.ends_at,
            sequence=session.sequence,
            changed_at=session.changed_at,
            opaque=True,
            cancelled=session.status == CANCELLED,
            page=("session", str(session.uid)),
        )


def _class_lines(session: Session, seats_taken: int) -> Iterator[str]:
    course, studio = session.course, session.studio
    yield f"Seats taken: {seats_taken} of {session.seats}."
    if assistants := ", ".join(sorted(person.name for person in session.assistants.all())):
        yield f"Taught by {session.instructor.name}, assisting: {assistants}."
    if course.setup_min or course.cleanup_min:
        ready = session.starts_at - dt.timedelta(minutes=course.setup_min)
        tidy = session.ends_at + dt.timedelta(minutes=course.cleanup_min)
        yield f"With set-up and clean-up: {_span(ready, tidy, studio)}."
    held = sorted(session.booking.occupancies.all(), key=lambda each: (each.starts_at, each.equipment.name))
    for occupancy in held:
        yield f"{occupancy.equipment.name}: {_span(occupancy.starts_at, occupancy.ends_at, studio)}."


def seats(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> Iterator[CalendarEvent]:
    """The seats that a person has, or had and gave back; what was only kept is no engagement."""
    seats = Seat.objects.filter(
        person=person, kept_until__isnull=True, starts_at__lt=to_at, ends_at__gt=from_at
    )
    for seat in seats.select_related("session__course", "torch", "studio"):
        place = seat.torch.name if seat.torch else f"seat {seat.number}"
        session = seat.session
        yield CalendarEvent(
            uid=str(seat.uid),
            kind=EventKind.SEAT,
            title=f"{session.course.name if session else 'Bench time'}, {place}",
            description=session.course.description if session else "",
            location=_place(seat.studio),
            zone=seat.studio.time_zone,
            starts_at=seat.starts_at,
            ends_at=seat.ends_at,
            sequence=seat.sequence + (session.sequence if session else 0),
            changed_at=max(seat.changed_at, session.changed_at) if session else seat.changed_at,
            opaque=True,
            cancelled=CANCELLED in (seat.status, session.status if session else None),
            page=("my-seats",),
        )


def _firings(from_at: dt.datetime, to_at: dt.datetime) -> QuerySet[Firing]:
    return (
        Firing.objects.filter(last_in_at__lt=to_at)
        .filter(Q(occupancy__ends_at__gte=from_at) | Q(unload_at__gte=from_at))
        .select_related("equipment__studio", "occupancy")
        .prefetch_related("loads__session__course")
    )


def firings_and_duties(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> Iterator[CalendarEvent]:
    """The firings with pieces of the person's own or of a class of theirs; who teaches it also unloads."""
    theirs = Q(loads__session__instructor=person) | Q(loads__owner=person)
    for firing in _firings(from_at, to_at).filter(theirs).distinct():
        yield _firing(firing)
        if any(load.session and load.session.instructor_id == person.pk for load in firing.loads.all()):
            yield _unloading(firing)


def _firing(firing: Firing) -> CalendarEvent:
    """A firing runs from the last piece in to the door open, whatever the clocks do in between."""
    return _of_firing(
        firing,
        uid=str(firing.uid),
        kind=EventKind.FIRING,
        title=f"{_recipe(firing)}: {firing.equipment.name}",
        description="\n".join(_firing_lines(firing)),
        starts_at=firing.last_in_at,
        ends_at=firing.unload_at,
    )


def _unloading(firing: Firing) -> CalendarEvent:
    cool = when(firing.cool_at, firing.equipment.studio)
    return _of_firing(
        firing,
        uid=str(uuid.uuid5(firing.uid, "unloading")),
        kind=EventKind.DUTY,
        title=f"Unload {firing.equipment.name}",
        description=f"{_courses(firing)}.\nCool enough to open from {cool}.",
        starts_at=firing.unload_at,
        ends_at=_unloaded_at(firing),
        alarm_min=UNLOADING_ALARM_MIN,
    )


def pick_ups(person: Person, from_at: dt.datetime, to_at: dt.datetime) -> Iterator[CalendarEvent]:
    """When the pieces of the classes a person sits in are out of the kiln."""
    seat = Q(loads__session__seat_rows__person=person, loads__session__seat_rows__status=BookingStatus.BOOKED)
    for firing in _firings(from_at, to_at).filter(seat).distinct():
        out = _unloaded_at(firing)
        yield _of_firing(
            firing,
            uid=str(uuid.uuid5(firing.uid, "pick-up")),
            kind=EventKind.PICK_UP,
            title="Pieces ready to collect",
            description=f"Out of {firing.equipment.name} from {when(out, firing.equipment.studio)}.",
            starts_at=out,
            ends_at=out,
        )


def _of_firing(firing: Firing, **facts: Any) -> CalendarEvent:
    """What all events of a firing share: its place, its changes, and that they take nobody's whole time.

    What broke off is to be annealed again: there is nothing to collect.
    """
    kept_back = facts["kind"] == EventKind.PICK_UP and firing.broken_at is not None
    return CalendarEvent(
        location=_place(firing.equipment.studio),
        zone=firing.equipment.studio.time_zone,
        sequence=firing.sequence,
        changed_at=firing.changed_at,
        opaque=facts["kind"] == EventKind.DUTY,
        cancelled=firing.status == CANCELLED or kept_back,
        page=("firing", str(firing.uid)),
        **facts,
    )


def _firing_lines(firing: Firing) -> Iterator[str]:
    studio = firing.equipment.studio
    yield f"{_courses(firing)}."
    ready, hold = when(firing.at_hold_at, studio), degrees(firing.hold_c, studio)
    starts = when(firing.last_in_at, studio)
    waits = f"program starts by itself {starts}; " if ready != starts else ""
    annealer = firing.recipe == Recipe.ANNEAL
    yield f"Holding at {hold} from {ready}." if annealer else f"Door closed {ready}; {waits}soak at {hold}."
    yield f"Cool enough to open from {when(firing.cool_at, studio)}."
    yield f"Unloading: {_span(firing.unload_at, _unloaded_at(firing), studio)}."


def _courses(firing: Firing) -> str:
    names = dict.fromkeys(
        load.session.course.name if load.session else "Own work" for load in firing.loads.all()
    )
    return " and ".join(names)


def _recipe(firing: Firing) -> str:
    return firing.recipe.replace("-", " ").capitalize()


def _unloaded_at(firing: Firing) -> dt.datetime:
    """When the shelves are empty; a cancelled firing keeps no occupancy, and would have been by then."""
    if hasattr(firing, "occupancy"):
        return firing.occupancy.ends_at
    return firing.unload_at + dt.timedelta(minutes=firing.equipment.clear_min)


def _place(studio: Studio) -> str:
    return ", ".join(filter(None, (studio.name, studio.address)))


def _span(starts_at: dt.datetime, ends_at: dt.datetime, studio: Studio) -> str:
    """A span by the studio's clock; the day of its end is said where it is another."""
    start, end = starts_at.astimezone(studio.zone), ends_at.astimezone(studio.zone)
    until = f"{end:%H:%M}" if start.date() == end.date() else when(ends_at, studio)
    return f"{when(starts_at, studio)} to {until}"
