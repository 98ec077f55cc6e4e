"""One holder at a time: a turn is taken by one statement in the database, kept while it lasts, given back.

The clocks of the machines must agree to within some seconds; a fence guards what they get wrong.
"""

from __future__ import annotations

import datetime as dt
import os
import socket
from dataclasses import dataclass
from uuid import uuid4

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from scheduling.models import Lease

AFTER_FAILURE = dt.timedelta(minutes=1)


class TurnLost(Exception):
    """The lease ended, and somebody else has taken the next turn."""


@dataclass(frozen=True, kw_only=True)
class Turn:
    """A lease that is ours."""

    name: str
    fence: int
    lasts: dt.timedelta

    def keep(self) -> None:
        """Have the lease longer. Raises TurnLost.

        Within a transaction it also guards what is written there: until that ends nobody takes over.
        """
        if not _held(self).update(until=timezone.now() + self.lasts):
            raise TurnLost(self.name)


def take(name: str, *, every: dt.timedelta, lasts: dt.timedelta) -> Turn | None:
    """Take the turn, unless somebody has it, or the last one was brought to its end and is not that old."""
    now = timezone.now()
    Lease.objects.get_or_create(name=name)
    due = Q(ended_at__isnull=True) | Q(begun_at__lte=now - every)
    free = Lease.objects.filter(due, name=name, until__lte=now)
    if not free.exists():  # where nothing is due, nothing is locked
        return None
    with transaction.atomic():
        # One statement looks and takes: of several that try, the database lets one through.
        if not free.update(
            holder=_holder(), fence=F("fence") + 1, until=now + lasts, begun_at=now, ended_at=None
        ):
            return None
        return Turn(name=name, fence=Lease.objects.get(name=name).fence, lasts=lasts)


def give_back(turn: Turn) -> None:
    """The turn is at its end; the next one may have it."""
    now = timezone.now()
    _held(turn).update(until=now, ended_at=now, last_error="")


def give_up(turn: Turn, error: Exception) -> None:
    """The turn failed; in a minute the next one may have it. A turn that was lost leaves nothing to give."""
    said = f"{type(error).__name__}: {error}"[:300]
    _held(turn).update(until=timezone.now() + AFTER_FAILURE, last_error=said)


def _held(turn: Turn) -> QuerySet[Lease]:
    return Lease.objects.filter(name=turn.name, fence=turn.fence)


def _holder() -> str:
    return f"{socket.gethostname()[:80]} {os.getpid()} {uuid4().hex[:8]}"
