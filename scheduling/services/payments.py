"""The paid mark of a seat: that it is paid, or not, and who says so. No money moves here.

The seat shows the last word; the audit keeps every one of them.
"""

from __future__ import annotations

from django.utils import timezone

from scheduling.errors import NotAllowed, NotPriced, Over
from scheduling.models import Seat, SeatStatus
from scheduling.selectors.payments import MARKS
from scheduling.services import audit
from scheduling.services.seats import lock_seat
from scheduling.services.transactions import one_write
from scheduling.wording import amount, place_of
from studios.models import Person
from studios.said import said
from studios.selectors import may, studios_where


@one_write
def mark_paid(*, actor: Person, seat: Seat) -> Seat:
    """A booked seat that has a price is paid. Raises NotAllowed, NotPriced or Over."""
    _lock(actor, seat)
    if seat.status != SeatStatus.BOOKED:
        raise NotPriced(seat=said("Only a booked seat"), why=said("is marked as paid"))
    if not seat.price:
        raise NotPriced(seat=said("This seat"), why=said("has no price that could be paid"))
    if seat.paid_at is not None:
        raise Over(what=said("The seat"), why=said("is marked as paid already"))
    return _write(actor, seat, paid=True)


@one_write
def unmark_paid(*, actor: Person, seat: Seat) -> Seat:
    """It was marked in error, or the money of a seat that was given back is paid back.

    Raises NotAllowed or Over.
    """
    _lock(actor, seat)
    if seat.paid_at is None:
        raise Over(what=said("The seat"), why=said("is not marked as paid"))
    return _write(actor, seat, paid=False)


def require_marker(person: Person) -> None:
    """Raises NotAllowed to whoever marks seats as paid nowhere."""
    if not studios_where(person, MARKS).exists():
        raise NotAllowed(
            who=person.name, what=said("see what is paid"), studio=said("any studio"), role=said("manager")
        )


def _lock(actor: Person, seat: Seat) -> None:
    if not may(actor, MARKS, seat.studio):
        raise NotAllowed(
            who=actor.name, what=said("mark a seat as paid"), studio=seat.studio.name, role=said("instructor")
        )
    lock_seat(seat)
    seat.refresh_from_db(fields=["price", "paid_at", "paid_noted_by"])


def _write(actor: Person, seat: Seat, *, paid: bool) -> Seat:
    seat.paid_at, seat.paid_noted_by = (timezone.now(), actor) if paid else (None, None)
    seat.save(update_fields=["paid_at", "paid_noted_by"])
    price = amount(seat.price, seat.studio) if seat.price else "nothing"
    noted = f"{'Paid' if paid else 'Not paid, or paid back'}: {price}, {place_of(seat)}"
    did = "mark-paid" if paid else "unmark-paid"
    audit.note(actor=actor, did=did, subject=seat, studio=seat.studio, said=noted)
    return seat
