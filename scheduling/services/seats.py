"""Seats in one step: a place in a class, or a numbered torch in open bench time, and giving either back.

A seat that is kept while its form is filled in (`keeping`) goes the same way in two steps.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import takewhile

from django.utils import timezone

from scheduling.errors import DeadlineOver, NotAllowed, Over, SeatsPromised
from scheduling.models import Seat, SeatStatus, Session
from scheduling.selectors.seats import given_back_until
from scheduling.services import audit, invitations, line
from scheduling.services.at_once import seat_at_once
from scheduling.services.bench import (
    hold_torch,
    lock_torches,
    require_bench_time,
    require_signed_off,
    require_torch_time,
)
from scheduling.services.earlier import require_earlier_courses
from scheduling.services.freeing import free_torches, release_seat
from scheduling.services.lapsing import lock_bench, standing_in
from scheduling.services.messages import tell
from scheduling.services.seating import (
    place_in,
    require_free,
    require_open,
    require_reserver,
    require_short,
    torch_in_class,
    write_booked,
    write_seat,
)
from scheduling.services.transactions import lock, one_write
from scheduling.wording import place_of, when
from studios.models import Equipment, Person
from studios.said import said
from studios.selectors import may


@one_write
def reserve_class_seat(
    *,
    actor: Person,
    session: Session,
    person: Person | None = None,
    torch: Equipment | None = None,
    note: str = "",
    acknowledged: int | None = None,
) -> Seat:
    """Reserve a seat in a class; at the torches it comes with a numbered torch of the class.

    A seat that is kept for the person in this class, or offered to them, is the one that is booked.
    `acknowledged` is the version of the studio's safety text that the person has read, where it is asked.
    Raises NotAllowed, Over, PersonBusy, EarlierCourseNeeded, NoSeatLeft, SeatsPromised, SeatTaken,
    SafetyUnread, InvalidInput or AlreadyTaken.
    """
    if torch is None and (person is None or person == actor):
        require_short(note)
        if (seat := seat_at_once(actor, session)) is not None:
            return write_seat(seat, actor=actor, note=note)
    seat = seat_in_class(actor=actor, session=session, person=person or actor, torch=torch)
    return write_booked(seat, actor=actor, note=note, acknowledged=acknowledged)


def seat_in_class(*, actor: Person, session: Session, person: Person, torch: Equipment | None) -> Seat:
    """The seat in a class that is kept for a person, else the next free one, not yet written; locked."""
    require_reserver(actor, person, session.studio)
    lock(sessions=[session.pk], people=[person.pk])
    session = Session.objects.select_related("course", "studio", "booking", "instructor").get(pk=session.pk)
    require_open(session)
    require_free(person, session.starts_at, session.ends_at, session.studio)
    require_earlier_courses(person, session)
    taken = standing_in(session)
    own = next((seat for seat in taken if (seat.person, seat.status) == (person, SeatStatus.KEPT)), None)
    if own is None:
        _require_not_promised(session, person, taken)
        return place_in(session, person, taken, torch)
    own.studio = session.studio
    if torch is not None and torch != own.torch:
        own.torch = torch_in_class(session, {seat.torch_id for seat in taken}, torch)
    return own


def _require_not_promised(session: Session, person: Person, taken: Sequence[Seat]) -> None:
    """Nobody passes those who wait and could sit there: what is free is offered to them first."""
    waiting = takewhile(lambda place: place.person_id != person.pk, line.waiting_in(session))
    before = [place.person for place in waiting]
    if not before or line.offered_until(session) is None:
        return
    if session.seats - len(taken) <= sum(line.can_sit(one, session, taken) for one in before):
        raise SeatsPromised(
            field="session", course=session.course.name, when=when(session.starts_at, session.studio)
        )


@one_write
def reserve_bench_torch(
    *,
    actor: Person,
    torch: Equipment,
    starts_at: dt.datetime,
    ends_at: dt.datetime,
    person: Person | None = None,
    note: str = "",
    acknowledged: int | None = None,
) -> Seat:
    """Reserve a numbered torch in open bench time, if it is free and the oxygen suffices.

    Raises NotAllowed, NotQualified, InvalidInput, NoBenchTime, PersonBusy, NoStart, SafetyUnread or
    AlreadyTaken.
    """
    seat = torch_in_bench_time(
        actor=actor, torch=torch, person=person or actor, starts_at=starts_at, ends_at=ends_at
    )
    return write_booked(seat, actor=actor, note=note, acknowledged=acknowledged)


def torch_in_bench_time(
    *, actor: Person, torch: Equipment, person: Person, starts_at: dt.datetime, ends_at: dt.datetime
) -> Seat:
    """The torch that is kept for a person in these hours, else the torch with all it holds; all is locked."""
    studio = torch.studio
    require_reserver(actor, person, studio)
    require_torch_time(torch, starts_at, ends_at)
    lock_bench(torch, person)
    require_bench_time(studio, starts_at, ends_at)
    require_signed_off(person, studio)
    require_free(person, starts_at, ends_at, studio)
    hours = {"starts_at": starts_at, "ends_at": ends_at, "torch": torch, "session": None}
    own = Seat.objects.filter(person=person, status=SeatStatus.KEPT, **hours).first()
    if own is not None:
        return own
    return hold_torch(actor=actor, torch=torch, person=person, starts_at=starts_at, ends_at=ends_at)


@one_write
def cancel_seat(*, actor: Person, seat: Seat) -> Seat:
    """Give a seat back, in time: the line of its class is asked, or the torch and its oxygen are free again.

    A student gives the own seat back until the studio's deadline; who may reserve for others does so until
    it begins. Raises NotAllowed, Over or DeadlineOver.
    """
    require_giver(actor, seat)
    lock_seat(seat)
    if seat.status == SeatStatus.CANCELLED:
        raise Over(what=said("The seat"), why=said("is given back already"))
    if seat.starts_at <= timezone.now():
        raise Over(what=said("The seat"), why=said("has begun and can no longer be given back"))
    booked = seat.status == SeatStatus.BOOKED
    if booked:
        _require_in_time(actor, seat)
    give_up(actor, seat, did="give-back" if booked else "let-go")
    if booked or actor != seat.person:
        _tell_given_back(actor, seat)
    return seat


def _tell_given_back(actor: Person, seat: Seat) -> None:
    """Whoever lets go what was only kept for them knows it; what was booked stands in their calendar, too."""
    if seat.session is not None:
        seat.session.refresh_from_db(fields=["sequence", "changed_at"])
    by_whom = said("is given back") if actor == seat.person else said("was given back for you")
    tell(
        person=seat.person,
        subject=said("Your seat was given back"),
        body=said(
            "Your seat at {studio}, {when}, {by_whom}.",
            studio=seat.studio.name,
            when=when(seat.starts_at, seat.studio),
            by_whom=by_whom,
        ),
        **invitations.of_seat(seat),
    )


def require_giver(actor: Person, seat: Seat) -> None:
    """One's own seat, or that of somebody for whom one may reserve. Raises NotAllowed."""
    if actor != seat.person and not may(actor, "reserve-for-others", seat.studio):
        raise NotAllowed(
            who=actor.name,
            what=said("give back somebody else's seat"),
            studio=seat.studio.name,
            role=said("instructor"),
        )


def lock_seat(seat: Seat) -> None:
    """Lock what a seat touches: its session, or its torch and what that draws on; and read it anew."""
    if seat.session_id is not None:
        lock(sessions=[seat.session_id], people=[seat.person_id])
    elif seat.torch is not None:
        lock_torches([seat.torch], [seat.person_id])
    seat.refresh_from_db(
        fields=[
            "status",
            "sequence",
            "starts_at",
            "ends_at",
            "kept_until",
            "kept_longer",
            "moved_at",
            "torch",
        ]
    )


def _require_in_time(actor: Person, seat: Seat) -> None:
    until = given_back_until(seat)
    if timezone.now() > until and not may(actor, "reserve-for-others", seat.studio):
        raise DeadlineOver(until=when(until, seat.studio), studio=seat.studio.name)


def give_up(actor: Person, seat: Seat, *, did: str) -> None:
    """A locked seat is nobody's any more; in a class it goes to whoever waits first."""
    free_torches([seat] if seat.booking_id else [])
    release_seat(seat)
    line.declined(seat)
    audit.note(actor=actor, did=did, subject=seat, studio=seat.studio, said=place_of(seat))
    if seat.session is not None:
        line.offer_free_seats(seat.session)
