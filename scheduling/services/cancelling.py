"""Cancelling sessions: what they held is free again, and what leant on their heat is made good."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

from django.utils import timezone

from scheduling.errors import NotAllowed, Over
from scheduling.models import (
    TAKEN,
    BookingStatus,
    Load,
    Occupancy,
    PersonSpan,
    Seat,
    Series,
    Session,
)
from scheduling.selectors.sessions import sessions_with_seats
from scheduling.services import audit, invitations
from scheduling.services.booking import lock_for_class
from scheduling.services.class_pieces import drop_expected
from scheduling.services.freeing import cancel_booking, release_seat
from scheduling.services.invitations import Invited
from scheduling.services.line import empty_line
from scheduling.services.messages import tell
from scheduling.services.releasing import (
    lit_already,
    opens_at,
    release_held,
    tell_to_keep_hot,
    tell_whose_moved,
)
from scheduling.services.transactions import one_write
from scheduling.wording import meeting, when
from studios.models import Person
from studios.said import said, several_said
from studios.selectors import may, people_with

# How many other meetings of a course are named to whoever sat in one that is called off.
MOST_NAMED = 3


@dataclass(kw_only=True)
class Gone:
    """What is called off for one person: seats, classes sat in or waited for, classes of their own."""

    seats: list[Seat] = field(default_factory=list)
    for_students: list[Session] = field(default_factory=list)
    taught: list[Session] = field(default_factory=list)

    @property
    def sessions(self) -> list[Session]:
        """Each of them once, in order of time."""
        every = dict.fromkeys([*self.for_students, *self.taught])
        return sorted(every, key=lambda session: (session.starts_at, session.pk))

    def invited(self, person: Person) -> list[Invited]:
        """What the calendar of the person is told of it."""
        taught = [invitations.of_called_off(self.taught, person)] if self.taught else []
        return invitations.by_method([*map(invitations.of_seat, self.seats), *taught])


@one_write
def cancel_session(*, actor: Person, session: Session) -> Session:
    """Cancel a class that has not begun. A cancellation is never refused for the heat that others lean on.

    Raises NotAllowed or Over.
    """
    _require_canceller(actor, session)
    _lock_to_cancel([session])
    session.refresh_from_db(fields=["status", "sequence", "starts_at", "ends_at", "instructor"])
    if session.status != BookingStatus.BOOKED:
        raise Over(what=session.course.name, why=said("is called off already"))
    if session.starts_at <= timezone.now():
        raise Over(what=session.course.name, why=said("has begun and can no longer be called off"))
    _call_off(actor, [session])
    return session


@one_write
def cancel_series(*, actor: Person, series: Series) -> Series:
    """Cancel all meetings of a weekly class that have not begun, or none of them.

    Who may cancel each of them may. Whoever sits in several is told once. Raises NotAllowed or Over.
    """
    every = list(series.sessions.order_by("starts_at", "pk"))
    for session in every:
        _require_canceller(actor, session)
    _lock_to_cancel(every)
    booked = series.sessions.filter(status=BookingStatus.BOOKED, starts_at__gt=timezone.now())
    to_come = list(booked.order_by("starts_at", "pk"))
    if not to_come:
        raise Over(
            what=said("{course}, each week,", course=series.course.name), why=said("has no meeting to come")
        )
    _call_off(actor, to_come)
    return series


def _lock_to_cancel(sessions: Sequence[Session]) -> None:
    """Lock all that some meetings of one course touch; it may need something else by now than they hold."""
    first, keys = sessions[0], [session.pk for session in sessions]
    held = [
        *Occupancy.objects.filter(booking__session__in=keys).values_list("equipment_id", flat=True),
        *Load.objects.filter(session__in=keys).values_list("firing__equipment_id", flat=True),
    ]
    lock_for_class(
        first.course,
        first.studio,
        first.instructor,
        sessions=keys,
        held=held,
        people=PersonSpan.objects.filter(session__in=keys).values_list("person_id", flat=True),
    )


def _call_off(actor: Person, sessions: Sequence[Session]) -> None:
    """Give back what they hold; who sits in them, waits for them or teaches them is told, once each."""
    gone: dict[Person, Gone] = defaultdict(Gone)
    for session in sessions:
        _tell_hot(session)
        _release(session)
        seats, waited = _freed_seats(session), empty_line(session)
        for seat in seats:
            gone[seat.person].seats.append(seat)
        for person in [*(seat.person for seat in seats), *waited]:
            gone[person].for_students.append(session)
        for person in (session.instructor, *session.assistants.order_by("name")):
            gone[person].taught.append(session)
        audit.note(actor=actor, did="call-off", subject=session, studio=session.studio, said=meeting(session))
    for person, each in gone.items():
        _tell_called_off(person, each)


def _require_canceller(actor: Person, session: Session) -> None:
    own = actor == session.instructor and may(actor, "book", session.studio)
    if not own and not may(actor, "book-for-others", session.studio):
        raise NotAllowed(
            who=actor.name, what=said("call this class off"), studio=session.studio.name, role=said("manager")
        )


def _release(session: Session) -> None:
    opened = opens_at(session.studio)
    strained = release_held(session)
    drop_expected(session)
    cancel_booking(session.booking)
    session.status, session.changed_at = BookingStatus.CANCELLED, timezone.now()
    session.sequence += 1
    session.save(update_fields=["status", "changed_at", "sequence"])
    for row in strained:
        tell_to_keep_hot(session, row, why=said("is called off"))
    tell_whose_moved(opened)


def _freed_seats(session: Session) -> list[Seat]:
    """Whoever sat in it has their time back; a seat that is kept for somebody goes, too."""
    seats = list(session.seat_rows.filter(status__in=TAKEN).select_related("person", "studio", "torch"))
    for seat in seats:
        release_seat(seat)
    return seats


def _other_meetings(person: Person, gone: Session) -> Sequence[Session]:
    """Where a student could still have a seat in the course that is called off: the next few meetings."""
    return list(sessions_with_seats(person=person).filter(course=gone.course)[:MOST_NAMED])


def _tell_called_off(person: Person, gone: Gone) -> None:
    sessions = gone.sessions
    course, studio = sessions[0].course, sessions[0].studio
    meetings = [when(session.starts_at, studio) for session in sessions]
    facts = {"course": course.name, "studio": studio.name}
    one = said("{course} at {studio}, {when}, is called off.", **facts, when=meetings[0])
    several = several_said([said("{course} at {studio} is called off:", **facts), *meetings], "\n")
    others = _other_meetings(person, sessions[0]) if gone.for_students else ()
    named = [meeting(other) for other in others]
    free = [said("With a free seat:"), *named] if named else []
    body = several_said([several if meetings[1:] else one, *free], "\n")
    for each in gone.invited(person):
        tell(person=person, subject=said("Called off: {course}", course=course.name), body=body, **each)


def _tell_hot(session: Session) -> None:
    """What is lit for a session that is called off does not go out by itself."""
    names = lit_already(session)
    for person in people_with("enter-outage", session.studio) if names else ():
        tell(
            person=person,
            subject=said("Hot, and called off: {course}", course=session.course.name),
            body=said(
                "Lit already: {names}. Turn off what no other class or firing needs.", names=", ".join(names)
            ),
        )
