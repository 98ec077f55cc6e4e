"""What is paid and what is not, for those who mark it at a studio."""

from __future__ import annotations

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import Seat, SeatStatus
from studios.models import Person
from studios.selectors import studios_where

MARKS = "mark-paid"


def seats_to_mark(person: Person) -> QuerySet[Seat]:
    """The seats of the studios where a person marks what is paid."""
    seats = Seat.objects.filter(studio__in=studios_where(person, MARKS))
    return seats.select_related("person", "studio", "session__course", "torch", "paid_noted_by")


def given_back_paid(person: Person) -> QuerySet[Seat]:
    """Seats that were given back, or called off, after they were paid: somebody decides about the money."""
    seats = seats_to_mark(person).filter(status=SeatStatus.CANCELLED, paid_at__isnull=False)
    return seats.order_by("changed_at", "pk")


def bench_unpaid(person: Person) -> QuerySet[Seat]:
    """Torches in open bench time that have begun and are not paid; those of a class are on its roster."""
    begun = seats_to_mark(person).filter(
        session__isnull=True,
        status=SeatStatus.BOOKED,
        starts_at__lte=timezone.now(),
        price__gt=0,
        paid_at__isnull=True,
    )
    return begun.order_by("starts_at", "pk")
