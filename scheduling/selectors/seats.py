"""What a seat promises: whose it is now, until when it is kept, and until when it is given back."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from scheduling.models import Seat, SeatStatus, Session
from studios.models import Person, Studio

# A torch in bench time and a seat in a class, as its own page shows them.
WHOLE = ("studio", "person", "torch", "session__course", "session__instructor", "waiting_place")


def standing(path: str = "") -> Q:
    """Seats that are somebody's now: booked, or kept and not yet past; a kept seat past its time is void."""
    kept = {f"{path}status": SeatStatus.KEPT, f"{path}kept_until__gt": timezone.now()}
    return Q(**{f"{path}status": SeatStatus.BOOKED}) | Q(**kept)


def void(path: str = "") -> Q:
    """Seats that were kept too long and that nobody has given up yet: they are in nobody's way."""
    return Q(**{f"{path}status": SeatStatus.KEPT, f"{path}kept_until__lte": timezone.now()})


def seats_taken() -> Count:
    """How many seats of a session are somebody's now."""
    return Count("seat_rows", filter=standing("seat_rows__"), distinct=True)


def is_past(seat: Seat) -> bool:
    """Whether a kept seat was kept too long to be anybody's."""
    until = seat.kept_until
    return seat.status == SeatStatus.KEPT and until is not None and until <= timezone.now()


def is_kept(seat: Seat) -> bool:
    """Whether a seat is kept for its person now."""
    return seat.status == SeatStatus.KEPT and not is_past(seat)


def kept_for(person: Person) -> QuerySet[Seat]:
    """The seats that are kept for a person now, the one that lapses first at the head."""
    kept = person.seats.filter(status=SeatStatus.KEPT, kept_until__gt=timezone.now())
    return kept.select_related(*WHOLE).order_by("kept_until", "pk")


def given_back_until(seat: Seat) -> dt.datetime:
    """Until when a person gives the own seat back: the studio's hours before it begins.

    The hours are elapsed ones, also across a change of clocks. A seat whose class was moved after it was
    reserved is bound by no deadline.
    """
    return seat.starts_at if seat.moved_at is not None else deadline_before(seat.starts_at, seat.studio)


def seat_given_back_until(session: Session) -> dt.datetime:
    """Until when a seat that is reserved now in a session is given back."""
    return deadline_before(session.starts_at, session.studio)


def deadline_before(starts_at: dt.datetime, studio: Studio) -> dt.datetime:
    """A studio's hours before a moment, as time passes and not by the hands of a clock."""
    return starts_at.astimezone(dt.UTC) - dt.timedelta(hours=studio.cancel_deadline_h)
