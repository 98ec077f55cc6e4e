"""Whether enough people come: a class below its least number of seats, from its decision day on."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, F, Q, QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, SeatStatus, Session

# No studio decides earlier (Studio.decision_days); two days for the clocks of the whole world.
LONGEST = dt.timedelta(days=62)


def decision_day(session: Session) -> dt.date:
    """The day, by the studio's clock, from which on a class with too few people is flagged."""
    day = session.starts_at.astimezone(session.studio.zone).date()
    return day - dt.timedelta(days=session.studio.decision_days)


def below_least(session: Session, booked: int) -> bool:
    """Whether a class that stands and has not begun is flagged: its day has come, with too few seats booked.

    A kept seat is not booked yet.
    """
    now = timezone.now()
    if session.status != BookingStatus.BOOKED or session.starts_at <= now:
        return False
    today = now.astimezone(session.studio.zone).date()
    return booked < session.course.min_seats and decision_day(session) <= today


def booked_in(session: Session) -> int:
    """How many seats of a session are booked."""
    return session.seat_rows.filter(status=SeatStatus.BOOKED).count()


def with_too_few(now: dt.datetime) -> QuerySet[Session]:
    """Sessions to come, near enough to be decided on anywhere, with fewer seats booked than they need."""
    standing = Session.objects.filter(
        status=BookingStatus.BOOKED, starts_at__gt=now, starts_at__lt=now + LONGEST
    )
    booked = Count("seat_rows", filter=Q(seat_rows__status=SeatStatus.BOOKED))
    few = standing.annotate(booked=booked).filter(booked__lt=F("course__min_seats"))
    return few.select_related("course", "studio", "instructor").order_by("pk")
