"""Seats follow their class to another time, at torches given anew; who is busy then loses the seat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from scheduling.errors import PersonBusy, SeatsDoNotFit
from scheduling.models import PersonSpan, Seat, SeatStatus, Session
from scheduling.services import line
from scheduling.services.freeing import release_seat
from scheduling.services.seating import require_free
from scheduling.wording import when
from studios.models import Equipment, EquipmentKind
from studios.said import said


@dataclass(frozen=True, kw_only=True)
class Reseated:
    """What became of a seat: lost, and why, or given another torch, or kept as it was."""

    seat: Seat
    lost_because: str = ""
    new_torch: bool = False


def require_fit(session: Session, seats: Sequence[Seat], torches: int) -> None:
    """Nobody stands by for want of a torch. Raises SeatsDoNotFit."""
    if torches and len(seats) > torches:
        raise SeatsDoNotFit(field="starts_at", course=session.course.name, taken=len(seats), torches=torches)


def busy_then(seats: Iterable[Seat], session: Session) -> dict[int, str]:
    """Why the people of some seats cannot come at the time of a session, by seat.

    The time that they gave to these seats is theirs again from here on.
    """
    every = list(seats)
    PersonSpan.objects.filter(seat__in=every).delete()
    found: dict[int, str] = {}
    for seat in every:
        try:
            require_free(seat.person, session.starts_at, session.ends_at, session.studio)
        except PersonBusy as error:
            found[seat.pk] = error.said
    return found


def reseat(session: Session, seats: Sequence[Seat]) -> list[Reseated]:
    """Take the seats of a class along to where it is now; its torches and who teaches it stand already."""
    for seat in seats:
        seat.studio = session.studio
    busy = busy_then(seats, session)
    coming = [seat for seat in seats if seat.pk not in busy]
    had = {seat.pk: seat.torch_id for seat in coming}
    lost = [_lost(seat, busy[seat.pk]) for seat in seats if seat.pk in busy]
    _give_torches(session, coming)
    _give_numbers(session, coming)
    # No torch is anybody's while they change hands.
    Seat.objects.filter(pk__in=had).update(torch=None)
    return [*lost, *(_follows(session, seat, had[seat.pk]) for seat in coming)]


def _lost(seat: Seat, why: str) -> Reseated:
    release_seat(seat)
    line.declined(seat)
    return Reseated(seat=seat, lost_because=why)


def _give_torches(session: Session, seats: Sequence[Seat]) -> None:
    """Whoever can keeps the torch; the others have the free ones, in the order of their seats."""
    held = Equipment.objects.filter(occupancies__booking=session.booking_id, kind=EquipmentKind.TORCH)
    torches = {torch.pk: torch for torch in held.order_by("number", "pk")}
    stay = {seat.torch_id for seat in seats}
    free = [torch for key, torch in torches.items() if key not in stay]
    for seat in seats:
        if torches and seat.torch_id not in torches:
            seat.torch = free.pop(0)


def _give_numbers(session: Session, seats: Sequence[Seat]) -> None:
    """A class with fewer seats than before counts them anew where it must."""
    numbers = {seat.number for seat in seats}
    free = [number for number in range(1, session.seats + 1) if number not in numbers]
    for seat in seats:
        if seat.number > session.seats:
            seat.number = free.pop(0)


def _follows(session: Session, seat: Seat, had: int | None) -> Reseated:
    later, other = seat.starts_at != session.starts_at, seat.torch_id != had
    if later:
        seat.moved_at = timezone.now()
    if later or other:
        seat.sequence, seat.changed_at = seat.sequence + 1, timezone.now()
    seat.starts_at, seat.ends_at = session.starts_at, session.ends_at
    if seat.kept_until is not None:
        seat.kept_until = min(seat.kept_until, session.starts_at)
    seat.save()
    if seat.status == SeatStatus.BOOKED:
        PersonSpan.objects.create(
            person=seat.person,
            studio=seat.studio,
            seat=seat,
            starts_at=seat.starts_at,
            ends_at=seat.ends_at,
        )
    return Reseated(seat=seat, new_torch=other)


def said_of(reseated: Reseated) -> str:
    """What a student is told of the own seat."""
    seat = reseated.seat
    if reseated.lost_because:
        return said("Your seat in it is free again: {why}", why=reseated.lost_because)
    torch = said(", torch {number}", number=seat.torch.number) if seat.torch else ""
    facts: dict[str, Any] = {"number": seat.number, "torch": torch}
    if seat.status == SeatStatus.KEPT and seat.kept_until is not None:
        until = when(seat.kept_until, seat.studio)
        return said("Seat {number}{torch} is kept for you until {until}.", **facts, until=until)
    return said("You have seat {number}{torch}. You can give it back until it begins.", **facts)
