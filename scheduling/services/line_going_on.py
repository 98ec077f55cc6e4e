"""The waiting lines go on by themselves: what nobody offered yet is offered, and late lines are closed."""

from __future__ import annotations

from collections.abc import Callable

from django.db.models import Count, F, Q
from django.utils import timezone

from scheduling.models import TAKEN, LineStatus, Session
from scheduling.services import audit
from scheduling.services.lapsing import lapse_kept, standing_in
from scheduling.services.line import closes_at, empty_line, offer_free_seats
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from scheduling.wording import meeting
from studios.said import said


def go_on(between: Callable[[], None] = lambda: None) -> int:
    """Lapse what was kept too long, offer what is free, close what is late; returns how many seats and lines.

    A seat may be free with nobody told: the class got more seats, or whoever waits has time for it again.
    `between` is called before each step.
    """
    return (
        lapse_kept(between) + _for_each(_late(), close_line, between) + _for_each(_roomy(), _offer, between)
    )


def _for_each(keys: list[int], does: Callable[[int], int], between: Callable[[], None]) -> int:
    done = 0
    for key in keys:
        between()
        done += does(key)
    return done


def _late() -> list[int]:
    """Sessions at which somebody waits although their line is to be closed; the hour is the line's own."""
    waiting = Session.objects.filter(line__status=LineStatus.WAITING).distinct().order_by("pk")
    return [session.pk for session in waiting if closes_at(session) <= timezone.now()]


def _roomy() -> list[int]:
    """Sessions to come in which somebody waits and a seat is nobody's."""
    taken = Count("seat_rows", filter=Q(seat_rows__status__in=TAKEN), distinct=True)
    waiting = Session.objects.filter(line__status=LineStatus.WAITING, starts_at__gt=timezone.now())
    roomy = waiting.annotate(taken=taken).filter(taken__lt=F("seats")).order_by("pk")
    return list(roomy.values_list("pk", flat=True))


@one_write
def _offer(key: int) -> int:
    lock(sessions=[key])
    session = Session.objects.select_related("course", "studio", "booking").get(pk=key)
    standing_in(session)
    return offer_free_seats(session)


@one_write
def close_line(key: int) -> int:
    """No offer would reach anybody in time any more: who still waits is told; returns whether anybody was."""
    lock(sessions=[key])
    session = Session.objects.select_related("course", "studio").get(pk=key)
    waited = empty_line(session) if closes_at(session) <= timezone.now() else []
    for person in waited:
        tell(
            person=person,
            subject=said("No seat came free: {course}", course=session.course.name),
            body=said(
                "The waiting line is closed: {meeting}. Should a seat still come free, whoever comes first "
                "has it.",
                meeting=meeting(session),
            ),
            key=f"line-closed-{session.uid}-{session.sequence}",
        )
    if waited:
        audit.note(
            actor=None, did="close-line", subject=session, studio=session.studio, said=meeting(session)
        )
    return bool(waited)
