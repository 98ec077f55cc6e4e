"""The classes for which somebody brings pieces: those that they teach, or help to teach, at a studio."""

from __future__ import annotations

import datetime as dt

from django.db.models import Q, QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, SeatStatus, Session
from studios.models import Person, Studio

# Pieces of a class are brought to a kiln within some weeks, or before it: common practice, no source.
BACK, AHEAD = dt.timedelta(weeks=8), dt.timedelta(weeks=8)


def classes_taught(person: Person) -> QuerySet[Session]:
    """Classes that stand and are taught by somebody, the latest first."""
    teaches = Session.objects.filter(Q(instructor=person) | Q(assistants=person))
    rows = Session.objects.filter(pk__in=teaches.order_by().values("pk"), status=BookingStatus.BOOKED)
    return rows.select_related("course", "studio").order_by("-starts_at", "-pk")


def classes_lately(person: Person, studio: Studio) -> QuerySet[Session]:
    """Those at a studio of some weeks past and to come."""
    now = timezone.now()
    return classes_taught(person).filter(studio=studio, starts_at__range=(now - BACK, now + AHEAD))


def takes_part(session: Session) -> list[Person]:
    """Who has a seat in a class, in the order of the seats."""
    seats = session.seat_rows.filter(status=SeatStatus.BOOKED).select_related("person")
    return [seat.person for seat in seats.order_by("number", "pk")]
