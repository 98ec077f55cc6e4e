"""What a pot holds, and when its furnace can be charged."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.charges import propose_charge
from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.records import Refusal, Store
from scheduling.errors import NoPot
from scheduling.snapshot import horizon_around, load_world
from studios.models import Equipment


@dataclass(frozen=True, kw_only=True)
class ChargeProposal:
    """The level of a pot, now and before its next charge; the earliest charge that fits, or why none does."""

    furnace: Equipment
    level_kg: float | None
    level_before_next_charge_kg: float | None
    floor_kg: float
    starts_at: dt.datetime | None
    ends_at: dt.datetime | None
    reasons: tuple[str, ...]


def charge_proposal(*, furnace: Equipment, ends_by: dt.datetime | None = None) -> ChargeProposal:
    """When a furnace can be charged, early rather than between two sold classes. Raises NoPot."""
    now = timezone.now()
    world = load_world([furnace.studio], horizon_around(now, max(now, ends_by) if ends_by else None))
    if furnace.pk not in world.pots:
        raise NoPot(field="furnace", equipment=furnace.name)
    by = floor_minutes(ends_by) if ends_by is not None else None
    store = world.pots[furnace.pk].store
    found = propose_charge(world, furnace.pk, ends_by=by)
    fits = None if isinstance(found, Refusal) else found
    return ChargeProposal(
        furnace=furnace,
        level_kg=_level(store, ceil_minutes(now)),
        level_before_next_charge_kg=_level(store, None),
        floor_kg=store.floor,
        starts_at=moment(fits[0]) if fits else None,
        ends_at=moment(fits[1]) if fits else None,
        reasons=tuple(reason.sentence for reason in found.reasons) if isinstance(found, Refusal) else (),
    )


def _level(store: Store, minute: int | None) -> float | None:
    """What is left at a minute, or at the end of the period that now runs."""
    now = ceil_minutes(timezone.now())
    since = max((begin for begin, _ in store.refills if begin <= now), default=None)
    if since is None:
        return None
    period = next(period for period in store.periods if period.span[0] == since)
    content = dict(store.refills)[since]
    return content - store.booked((since, period.span[1] if minute is None else minute))
