"""What a person does with a waiting line: join it at its end, leave it, take what it offers.

An offered seat is a kept seat, and is booked and let go as one.
"""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import timezone

from scheduling.errors import InLineAlready, NoLine, NotAllowed, Over
from scheduling.models import IN_LINE, LineStatus, Seat, Session, WaitingPlace
from scheduling.services import audit
from scheduling.services.earlier import require_earlier_courses
from scheduling.services.keeping import book_kept
from scheduling.services.lapsing import standing_in
from scheduling.services.line import CLOSES_BEFORE, free_seat, offer_free_seats, offered_until, waiting_in
from scheduling.services.messages import tell
from scheduling.services.seating import require_open, require_reserver
from scheduling.services.seats import cancel_seat
from scheduling.services.transactions import lock, one_write
from scheduling.wording import long, meeting, when
from studios.models import Person
from studios.said import said
from studios.selectors import may

MINUTE_S = 60


@one_write
def join_line(*, actor: Person, session: Session, person: Person | None = None) -> WaitingPlace:
    """Join the waiting line of a full class, at its end; whoever has no time for it yet may wait, too.

    Where seats are free and all who wait are busy then, the newcomer is offered one at once.
    Raises NotAllowed, Over, NoLine, InLineAlready or EarlierCourseNeeded.
    """
    person = person or actor
    require_reserver(actor, person, session.studio)
    lock(sessions=[session.pk], people=[person.pk])
    session = Session.objects.select_related("course", "studio", "booking").get(pk=session.pk)
    require_open(session)
    seats = standing_in(session)
    _require_outside(person, session, seats)
    require_earlier_courses(person, session)
    _require_line(person, session, seats)
    place = WaitingPlace.objects.create(session=session, person=person)
    _note(actor, place, "join-line", "waits for")
    offer_free_seats(session)
    place.refresh_from_db()
    _tell_joined(place)
    return place


def _require_outside(person: Person, session: Session, seats: Sequence[Seat]) -> None:
    """Nobody waits for a class that they teach, sit in or wait for already."""
    has = None
    if person.pk == session.instructor_id or session.assistants.filter(pk=person.pk).exists():
        has = "teaches"
    elif any(seat.person_id == person.pk for seat in seats):
        has = "has a seat in"
    elif WaitingPlace.objects.filter(session=session, person=person, status__in=IN_LINE).exists():
        has = "waits for"
    if has is not None:
        raise InLineAlready(
            field="session",
            who=person.name,
            has=has,
            course=session.course.name,
            when=when(session.starts_at, session.studio),
        )


def _require_line(person: Person, session: Session, seats: Sequence[Seat]) -> None:
    why = None
    if offered_until(session) is None:
        before = long(int(CLOSES_BEFORE.total_seconds()) // MINUTE_S)
        why = f"it closes {before} before the class, and whoever comes first has what comes free"
    elif not waiting_in(session).exists() and free_seat(session, person, seats) is not None:
        why = said("a seat is free, and can be reserved")
    if why is not None:
        raise NoLine(
            field="session",
            course=session.course.name,
            when=when(session.starts_at, session.studio),
            why=why,
        )


def _tell_joined(place: WaitingPlace) -> None:
    """Where a seat is offered at once, the offer says it all."""
    if place.status == LineStatus.WAITING:
        tell(
            person=place.person,
            subject=said("In the waiting line: {course}", course=place.session.course.name),
            body=said(
                "You are in the waiting line of {meeting}. When a seat comes free it is offered in order "
                "of joining, and you are told.",
                meeting=meeting(place.session),
            ),
        )


@one_write
def leave_line(*, actor: Person, place: WaitingPlace) -> WaitingPlace:
    """Leave a waiting line; a seat that is offered goes to the next. Raises NotAllowed or Over."""
    _require_leaver(actor, place)
    lock(sessions=[place.session_id], people=[place.person_id])
    place.refresh_from_db(fields=["status", "seat"])
    if place.status not in IN_LINE:
        raise Over(what=said("The place in the waiting line"), why=said("is given up already"))
    if place.seat is not None:
        cancel_seat(actor=actor, seat=place.seat)
        place.refresh_from_db(fields=["status"])
        return place
    place.status, place.changed_at = LineStatus.LEFT, timezone.now()
    place.save(update_fields=["status", "changed_at"])
    _note(actor, place, "leave-line", "waits no longer for")
    if actor != place.person:
        noted = said("You were taken out of the waiting line of {meeting}.", meeting=meeting(place.session))
        tell(
            person=place.person,
            subject=said("Out of the line: {course}", course=place.session.course.name),
            body=noted,
        )
    return place


@one_write
def take_offer(
    *, actor: Person, place: WaitingPlace, note: str = "", acknowledged: int | None = None
) -> WaitingPlace:
    """Take the seat that is offered, before its deadline. Raises Over, and what `book_kept` raises."""
    _require_leaver(actor, place)
    lock(sessions=[place.session_id], people=[place.person_id])
    place.refresh_from_db(fields=["status", "seat"])
    if place.seat is None or place.status == LineStatus.WAITING:
        raise Over(what=said("Nothing"), why=said("is offered yet"))
    book_kept(actor=actor, seat=place.seat, note=note, acknowledged=acknowledged)
    place.refresh_from_db(fields=["status"])
    return place


def _require_leaver(actor: Person, place: WaitingPlace) -> None:
    studio = place.session.studio
    if actor != place.person and not may(actor, "reserve-for-others", studio):
        raise NotAllowed(
            who=actor.name,
            what=said("give up somebody else's place"),
            studio=studio.name,
            role=said("instructor"),
        )


def _note(actor: Person, place: WaitingPlace, did: str, does: str) -> None:
    noted = f"{place.person.name} {does} {meeting(place.session)}"
    audit.note(actor=actor, did=did, subject=place, studio=place.session.studio, said=noted)
