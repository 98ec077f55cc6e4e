"""The waiting line behind a full session: who joined first is offered a seat first.

    a seat comes free --> offer_free_seats: it is kept for the first who can sit there, until a deadline
        --> taken: booked, as any kept seat         --> declined, or lapsed: the next one is offered it

All of it happens while the session is locked, by whoever frees a seat. What a person does with a place in the
line or with an offer is in `services.in_line`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.errors import NoSeatLeft, PersonBusy
from scheduling.models import (
    IN_LINE,
    BookingStatus,
    LineStatus,
    Seat,
    SeatStatus,
    Session,
    WaitingPlace,
)
from scheduling.selectors.earlier import missing_courses
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.services.seating import place_in, require_free, taken_in
from scheduling.wording import meeting, when
from studios.models import Person
from studios.said import said
from studios.selectors import may

# Whoever takes an offered seat must still get there. Common practice, no source.
CLOSES_BEFORE = dt.timedelta(hours=1)
# A shorter offer is none: nobody looks at their messages that often.
SHORTEST_OFFER = dt.timedelta(minutes=15)


def offer_free_seats(session: Session) -> int:
    """Keep what is free for those who wait, in their order, and tell them; returns how many were offered.

    The caller has locked the session and has lapsed what is past. Whoever is busy then, or may not sit there,
    is passed over and keeps the place.
    """
    if not waiting_in(session).exists():
        return 0
    session = Session.objects.select_related("course", "studio").get(pk=session.pk)
    until = offered_until(session)
    if session.status != BookingStatus.BOOKED or until is None:
        return 0
    offered = 0
    for place in waiting_in(session):
        taken = taken_in(session)
        if not can_sit(place.person, session, taken):
            continue
        seat = free_seat(session, place.person, taken)
        if seat is None:
            break
        _offer(place, seat, session, until)
        offered += 1
    return offered


def waiting_in(session: Session) -> QuerySet[WaitingPlace]:
    """Who waits and is offered nothing yet, in order of joining."""
    places = WaitingPlace.objects.filter(session=session, status=LineStatus.WAITING)
    return places.select_related("person").order_by("pk")


def closes_at(session: Session) -> dt.datetime:
    """After this nobody joins the line and no offer is made: who comes first has what is free."""
    return session.starts_at.astimezone(dt.UTC) - CLOSES_BEFORE


def offered_until(session: Session) -> dt.datetime | None:
    """How long an offer that is made now lasts, in whole minutes; None when it is too late for any."""
    now = timezone.now()
    until = min(now + dt.timedelta(hours=session.studio.offer_h), closes_at(session))
    return until.replace(second=0, microsecond=0) if until - now >= SHORTEST_OFFER else None


def can_sit(person: Person, session: Session, taken: Sequence[Seat]) -> bool:
    """Whether a person may have a seat in a session, has none in it yet, and has the time for it."""
    if not person.is_active or not may(person, "reserve", session.studio):
        return False
    if person.pk in {seat.person_id for seat in taken} or missing_courses(person=person, session=session):
        return False
    try:
        require_free(person, session.starts_at, session.ends_at, session.studio)
    except PersonBusy:
        return False
    return True


def free_seat(session: Session, person: Person, taken: Sequence[Seat]) -> Seat | None:
    """The next free seat, not yet written; None where the class is full, or its last torch is out of use."""
    try:
        return place_in(session, person, taken)
    except NoSeatLeft:
        return None


def _offer(place: WaitingPlace, seat: Seat, session: Session, until: dt.datetime) -> None:
    seat.status, seat.kept_until = SeatStatus.KEPT, until
    seat.save()
    _becomes(place, LineStatus.OFFERED, seat)
    deadline = when(until, session.studio)
    tell(
        person=place.person,
        subject=said("A seat is free: {course}", course=session.course.name),
        body=said(
            "{seat_said} is kept for you until {deadline}: {meeting}. Take it or decline it on your page "
            "My seats; after that it is offered to the next in the waiting line.",
            seat_said=_seat_said(seat),
            deadline=deadline,
            meeting=meeting(session),
        ),
        key=f"offer-{seat.uid}",
    )
    noted = f"{place.person.name} is offered a seat in {meeting(session)}, until {deadline}"
    audit.note(actor=None, did="offer", subject=seat, studio=session.studio, said=noted)


def _seat_said(seat: Seat) -> str:
    if seat.torch is None:
        return said("Seat {number}", number=seat.number)
    return said("Seat {number}, torch {torch}", number=seat.number, torch=seat.torch.number)


def lapsed(seat: Seat) -> None:
    """The offer of a kept seat has passed its deadline: its person is told, and is out of the line.

    Of a seat that was never offered nothing is to be done. The caller frees the seat and offers it again.
    """
    place = _offer_of(seat)
    if place is not None:
        _becomes(place, LineStatus.LAPSED, seat)
        _tell_lapsed(place, seat)


def declined(seat: Seat) -> None:
    """Whoever lets an offered seat go is out of the line. The caller frees the seat and offers it again."""
    place = _offer_of(seat)
    if place is not None:
        _becomes(place, LineStatus.LEFT, seat)


def _tell_lapsed(place: WaitingPlace, seat: Seat) -> None:
    tell(
        person=place.person,
        subject=said("The offer has lapsed: {course}", course=place.session.course.name),
        body=said(
            "A seat was kept for you until its deadline, and is kept no longer: {meeting}. You are out of "
            "its waiting line; you may join it again, at its end.",
            meeting=meeting(place.session),
        ),
        key=f"offer-lapsed-{seat.uid}",
    )


def _offer_of(seat: Seat) -> WaitingPlace | None:
    """The place in the line to which a kept seat is offered."""
    places = WaitingPlace.objects.filter(seat=seat, status=LineStatus.OFFERED)
    return places.select_related("person", "session__course", "session__studio").first()


def empty_line(session: Session) -> list[Person]:
    """Nobody waits any longer; returns who did, to be told why. An offer that is out is one of the seats."""
    waited = [place.person for place in waiting_in(session)]
    everybody = WaitingPlace.objects.filter(session=session, status__in=IN_LINE)
    everybody.update(status=LineStatus.LEFT, changed_at=timezone.now())
    return waited


def _becomes(place: WaitingPlace, status: LineStatus, seat: Seat) -> None:
    place.status, place.seat, place.changed_at = status, seat, timezone.now()
    place.save(update_fields=["status", "seat", "changed_at"])
