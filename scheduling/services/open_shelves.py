"""Open shelf space: others add pieces to a firing that has room, until its cut-off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from scheduling.models import Firing, KilnJob
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.transactions import one_write
from studios.models import GlassType, Person


@one_write
def offer(*, actor: Person, firing: Firing, until: dt.datetime | None = None) -> Firing:
    """Open the free room on a firing's shelves to others, until a minute; else until its loading begins.

    Whoever has the load in it may, and whoever books kilns there. Raises NotYours, InvalidInput or Over.
    """
    raise NotImplementedError


@one_write
def withdraw(*, actor: Person, firing: Firing) -> Firing:
    """Nobody adds anything more; what was added stays. Raises NotYours or Over."""
    raise NotImplementedError


@one_write
def add_pieces(
    *,
    actor: Person,
    firing: Firing,
    sizes: Sequence[SizeAsked],
    glass: GlassType,
    thickness_mm: float,
    title: str = "",
    note: str = "",
) -> KilnJob:
    """Put own pieces into a firing that is open to others: beside those that stand there, as a kiln job of
    that one firing, booked at once.

    Raises NotAllowed, InvalidInput, or NoShelfSpace, whose fact `reason` is one of closed, cut-off, glass,
    thickness-class, thicker, program, full.
    """
    raise NotImplementedError


@one_write
def leave(*, actor: Person, job: KilnJob) -> KilnJob:
    """Take what was added to somebody's firing out again, before its loading begins. Raises NotYours or Over."""
    raise NotImplementedError
