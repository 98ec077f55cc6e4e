"""The roster of a class, for whoever teaches it: who sits where, and who waits behind."""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID

from scheduling.models import Seat, SeatStatus, Session, WaitingPlace
from scheduling.selectors.least import below_least
from scheduling.selectors.line import standing_places
from scheduling.selectors.safety import day_at, text_in_force
from studios.models import Acknowledgement, Person
from studios.selectors import may, studios_where

SEES_NAMES, SEES_MAIL, MARKS = "see-names", "reserve-for-others", "mark-paid"


@dataclass(frozen=True, kw_only=True)
class RosterLine:
    """Somebody who sits in a class; `email` is empty for readers who may not see it.

    `safety_read` is None where the studio asks for nothing.
    """

    seat: Seat
    email: str
    safety_read: bool | None


@dataclass(frozen=True, kw_only=True)
class RosterWaiting:
    """Somebody in the line behind it, in order."""

    number: int
    place: WaitingPlace
    email: str


@dataclass(frozen=True, kw_only=True)
class Roster:
    """One class with everybody who comes and everybody who waits."""

    session: Session
    lines: tuple[RosterLine, ...]
    waiting: tuple[RosterWaiting, ...]
    sees_mail: bool
    marks_paid: bool
    below_least: bool

    @property
    def has_torches(self) -> bool:
        return any(line.seat.torch_id for line in self.lines)

    @property
    def asks_safety(self) -> bool:
        return any(line.safety_read is not None for line in self.lines)

    @property
    def unread(self) -> int:
        """How many have not read the safety text that is asked for."""
        return sum(line.safety_read is False for line in self.lines)


def roster_of(*, uid: UUID, person: Person) -> Roster | None:
    """The roster of a class at a studio where a person sees names; any other is not found."""
    session = (
        Session.objects.filter(uid=uid, studio__in=studios_where(person, SEES_NAMES))
        .select_related("course", "studio", "instructor")
        .first()
    )
    if session is None:
        return None
    seats = list(
        session.seat_rows.filter(status=SeatStatus.BOOKED)
        .select_related("person", "torch", "studio", "paid_noted_by")
        .order_by("number")
    )
    sees_mail = may(person, SEES_MAIL, session.studio)
    return Roster(
        session=session,
        lines=_lines(session, seats, sees_mail=sees_mail),
        waiting=_waiting(session, sees_mail=sees_mail),
        sees_mail=sees_mail,
        marks_paid=may(person, MARKS, session.studio),
        below_least=below_least(session, len(seats)),
    )


def _lines(session: Session, seats: list[Seat], *, sees_mail: bool) -> tuple[RosterLine, ...]:
    read = _who_read(session, seats)
    return tuple(
        RosterLine(
            seat=seat,
            email=seat.person.email if sees_mail else "",
            safety_read=None if read is None else seat.person_id in read,
        )
        for seat in seats
    )


def _who_read(session: Session, seats: list[Seat]) -> frozenset[int] | None:
    """Who has read the text in force for the term of the class; None where there is none."""
    text, day = text_in_force(session.studio), day_at(session.studio, session.starts_at)
    if text is None:
        return None
    read = Acknowledgement.objects.filter(
        text=text,
        person__in=[seat.person_id for seat in seats],
        first_day__lte=day,
        last_day__gte=day,
    )
    return frozenset(read.values_list("person_id", flat=True))


def _waiting(session: Session, *, sees_mail: bool) -> tuple[RosterWaiting, ...]:
    places = session.line.filter(standing_places()).select_related("person", "seat").order_by("pk")
    return tuple(
        RosterWaiting(number=number, place=place, email=place.person.email if sees_mail else "")
        for number, place in enumerate(places, start=1)
    )
