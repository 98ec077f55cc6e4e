"""Whether enough people come: a class below its least number of seats, from its decision day on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from typing import Any

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


def seats_booked() -> Count:
    """The same, of many sessions at once."""
    return Count("seat_rows", filter=Q(seat_rows__status=SeatStatus.BOOKED), distinct=True)


def with_too_few(now: dt.datetime) -> QuerySet[Session]:
    """Sessions to come, near enough to be decided on anywhere, with fewer seats booked than they need."""
    standing = Session.objects.filter(
        status=BookingStatus.BOOKED, starts_at__gt=now, starts_at__lt=now + LONGEST
    )
    few = standing.annotate(booked=seats_booked()).filter(booked__lt=F("course__min_seats"))
    return few.select_related("course", "studio", "instructor").order_by("pk")


def flagged_at(studio_ids: Collection[int], from_at: dt.datetime, to_at: dt.datetime) -> list[Session]:
    """The flagged sessions of some studios that begin in a stretch of time, in order; one query."""
    now = timezone.now()
    if to_at <= now:
        return []
    few: Any = with_too_few(now)
    near = few.filter(studio_id__in=studio_ids, starts_at__gte=from_at, starts_at__lt=to_at)
    return [each for each in near.order_by("starts_at", "pk") if below_least(each, each.booked)]
