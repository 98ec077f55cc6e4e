"""A class in order of time: what is lit before it, when it begins, when its pieces can be collected."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from scheduling.models import BookingStatus, Firing, Session
from scheduling.selectors.duties import Duty, held_duties, seen_by_staff
from scheduling.selectors.held import HeldSpan, held_by_session
from studios.models import Equipment


@dataclass(frozen=True, kw_only=True)
class Evening:
    """What whoever teaches a class sees to, in order, and when the last of its pieces can be collected."""

    session: Session
    before: tuple[Duty, ...]
    after: tuple[Duty, ...]
    ready: tuple[tuple[str, dt.datetime], ...]
    collect_at: dt.datetime | None


def evening_of(session: Session) -> Evening:
    """`before` is begun before the class ends; `ready`: annealers that it works with, and from when."""
    held = held_by_session(session_id=session.pk, viewer=seen_by_staff(session.studio))
    duties = _duties(session, held)
    firings = _firings(session)
    return Evening(
        session=session,
        before=tuple(duty for duty in duties if duty.at < session.ends_at),
        after=tuple(duty for duty in duties if duty.at >= session.ends_at),
        ready=tuple((firing.equipment.name, firing.at_hold_at) for firing in firings),
        collect_at=_collect_at(firings),
    )


def _duties(session: Session, held: list[HeldSpan]) -> list[Duty]:
    if not held:
        return []
    equipment = Equipment.objects.filter(studio=session.studio).in_bulk()
    span = min(one.span[0] for one in held), max(one.span[1] for one in held)
    return sorted(held_duties(held, equipment, span), key=lambda duty: (duty.span, duty.does, duty.what))


def _firings(session: Session) -> list[Firing]:
    rows = Firing.objects.filter(loads__session=session, status=BookingStatus.BOOKED)
    return list(rows.select_related("equipment", "occupancy").distinct().order_by("at_hold_at", "pk"))


def _collect_at(firings: list[Firing]) -> dt.datetime | None:
    """Nobody is told to come for what broke off."""
    if any(firing.broken_at for firing in firings):
        return None
    return max((firing.occupancy.ends_at for firing in firings), default=None)
