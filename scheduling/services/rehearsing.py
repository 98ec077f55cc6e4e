"""What a move would do: found by the very steps that make it, in a transaction that is undone.

So the world without a class is exact: its firings, the heat that it lends, its change-overs and its students.
It locks what a move locks, for as long as a search takes; nobody is told anything.
"""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db import transaction

from scheduling.engine.records import Kind
from scheduling.models import Seat, Session
from scheduling.selectors.options import Option, Refused, examine
from scheduling.services.booking import whole_minute
from scheduling.services.moving import as_booked, begin_move, promised_hours, require_may_move
from scheduling.services.releasing import release_held
from scheduling.services.reseating import busy_then, require_fit
from scheduling.services.transactions import one_rehearsal
from studios.models import Person


@dataclass(frozen=True, kw_only=True)
class Rehearsal:
    """What a move would hold, or why it cannot be; and who would lose the seat, with the reason."""

    answer: Option | Refused
    losing: tuple[tuple[Seat, str], ...] = ()


@one_rehearsal
def rehearse_move(
    *, actor: Person, session: Session, starts_at: dt.datetime, instructor: Person | None = None
) -> Rehearsal:
    """What `move_session` would do, for who may do it.

    Raises NotAllowed, NotQualified, InvalidInput, Over or SeatsDoNotFit.
    """
    whole_minute(starts_at)
    session.refresh_from_db()
    teacher = instructor or session.instructor
    require_may_move(actor, session, teacher)
    with undone():
        return _rehearsed(session, starts_at, teacher)


@one_rehearsal
def rehearse_repair(*, session: Session, starts_at: dt.datetime | None = None) -> Rehearsal:
    """What a class would hold if it were placed anew, at its own start or at another, or why not.

    Whoever asks moves nothing by it. Raises Over or SeatsDoNotFit.
    """
    session.refresh_from_db()
    with undone():
        return _rehearsed(session, starts_at or session.starts_at, session.instructor)


@contextmanager
def undone() -> Iterator[None]:
    """Whatever is written meanwhile is undone, also what is to be told."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def _rehearsed(session: Session, starts_at: dt.datetime, teacher: Person) -> Rehearsal:
    seats = begin_move(session, teacher)
    release_held(session)
    answer = examine(
        course=as_booked(session),
        studio=session.studio,
        instructor=teacher,
        starts_at=starts_at,
        notice=starts_at != session.starts_at,
        promised=promised_hours(session),
    )
    if isinstance(answer, Refused):
        return Rehearsal(answer=answer)
    kinds = [held.equipment.kind for held in answer.held]
    require_fit(session, seats, kinds.count(Kind.TORCH.value))
    there = copy.copy(session)
    there.starts_at, there.ends_at = answer.starts_at, answer.ends_at
    busy = busy_then(seats, there)
    losing = tuple((seat, busy[seat.pk]) for seat in seats if seat.pk in busy)
    return Rehearsal(answer=answer, losing=losing)
