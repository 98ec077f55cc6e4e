"""What is given back: a booking, a seat, a torch in bench time, and torches that were kept too long.

A torch whose kept seat has lapsed is nobody's, but still holds its hours and its oxygen. Whoever needs them
locks it with the rest, and gives it up first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils import timezone

from scheduling.models import Booking, BookingStatus, Occupancy, PersonSpan, Seat, SeatStatus
from scheduling.selectors.seats import is_past
from scheduling.services import audit
from scheduling.services.refills import drop_unneeded
from scheduling.wording import place_of
from studios.models import Studio


def cancel_booking(booking: Booking) -> None:
    """A cancelled booking holds nothing and is kept."""
    booking.status, booking.cancelled_at = BookingStatus.CANCELLED, timezone.now()
    booking.save(update_fields=["status", "cancelled_at"])


def release_seat(seat: Seat) -> None:
    """A seat given back frees the person's time."""
    PersonSpan.objects.filter(seat=seat).delete()
    seat.status, seat.changed_at = BookingStatus.CANCELLED, timezone.now()
    seat.sequence += 1
    seat.save(update_fields=["status", "changed_at", "sequence"])


def free_torches(seats: Sequence[Seat]) -> None:
    """The torches and their oxygen are free again; they are locked."""
    drawn: set[int] = set()
    for seat in seats:
        if seat.booking is not None and seat.torch is not None:
            drawn.update(seat.torch.draws.values_list("supply_id", flat=True))
            Occupancy.objects.filter(booking=seat.booking).delete()
            cancel_booking(seat.booking)
    if seats:
        drop_unneeded(sorted(drawn))


def past_torches(studio: Studio) -> list[Seat]:
    """The torches of a studio that were kept too long and still hold their oxygen."""
    past = Seat.objects.filter(session__isnull=True, studio=studio, kept_until__lte=timezone.now())
    return list(past.filter(status=SeatStatus.KEPT).select_related("torch", "studio", "person", "booking"))


def give_up_torches(past: Iterable[Seat]) -> list[Seat]:
    """Torches that were kept too long, and are locked, are dark; gives those that still were by then."""
    still = _still_past(past)
    give_up(still)
    return still


def give_up(past: Sequence[Seat]) -> None:
    """Kept seats whose time has passed are nobody's any more; torches in bench time are dark again."""
    free_torches([seat for seat in past if seat.booking_id])
    for seat in past:
        release_seat(seat)
        audit.note(actor=None, did="lapse", subject=seat, studio=seat.studio, said=place_of(seat))


def _still_past(past: Iterable[Seat]) -> list[Seat]:
    """Those that nobody has given up, booked or kept longer before the locks were ours."""
    keys = [seat.pk for seat in past]
    rows = Seat.objects.filter(pk__in=keys).select_related("torch", "studio", "person", "booking")
    return [seat for seat in rows.order_by("pk") if is_past(seat)]
