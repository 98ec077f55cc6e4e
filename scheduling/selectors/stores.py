"""What a pot holds, when its furnace can be charged, and what finds too little of something."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.charges import propose_charge
from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.records import Refusal, Store, Use
from scheduling.engine.stores import run_dry
from scheduling.errors import NoPot
from scheduling.models import Occupancy
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import now_said, say
from studios.models import Equipment


@dataclass(frozen=True, kw_only=True)
class RunsDry:
    """Something that is booked and finds too little left: a class, bench time or a firing, and its hours."""

    what: str
    starts_at: dt.datetime
    ends_at: dt.datetime


def what_runs_dry(store: Store) -> tuple[RunsDry, ...]:
    """All that is booked, from now on, for which a supply or a pot has too little; each once, in order."""
    uses = run_dry(store, floor_minutes(timezone.now()))
    rows = Occupancy.objects.filter(pk__in={use.occupancy_id for use in uses}).select_related(
        "equipment", "booking__session__course", "firing"
    )
    by_key = {row.pk: row for row in rows}
    found = (_dry(by_key[use.occupancy_id], use) for use in uses if use.occupancy_id in by_key)
    once = {(dry.what, dry.starts_at): dry for dry in found}
    return tuple(sorted(once.values(), key=lambda dry: (dry.starts_at, dry.what)))


def _dry(row: Occupancy, use: Use) -> RunsDry:
    session = getattr(row.booking, "session", None)
    if session is not None:
        return RunsDry(what=session.course.name, starts_at=session.starts_at, ends_at=session.ends_at)
    name = row.equipment.name
    bench = say("Bench time at {equipment}", equipment=name)
    what = say("Firing in {equipment}", equipment=name) if row.firing else bench
    return RunsDry(what=what, starts_at=moment(use.span[0]), ends_at=moment(use.span[1]))


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


def charge_proposal(
    *, furnace: Equipment, ends_by: dt.datetime | None = None, not_before: dt.datetime | None = None
) -> ChargeProposal:
    """When a furnace can be charged, early rather than between two sold classes. Raises NoPot."""
    now = timezone.now()
    world = load_world([furnace.studio], horizon_around(now, max(now, ends_by) if ends_by else None))
    if furnace.pk not in world.pots:
        raise NoPot(field="furnace", equipment=furnace.name)
    by = floor_minutes(ends_by) if ends_by is not None else None
    store = world.pots[furnace.pk].store
    since = ceil_minutes(not_before) if not_before is not None else None
    found = propose_charge(world, furnace.pk, since=since, ends_by=by)
    fits = None if isinstance(found, Refusal) else found
    return ChargeProposal(
        furnace=furnace,
        level_kg=_level(store, ceil_minutes(now)),
        level_before_next_charge_kg=_level(store, None),
        floor_kg=store.floor,
        starts_at=moment(fits[0]) if fits else None,
        ends_at=moment(fits[1]) if fits else None,
        reasons=_why(found),
    )


def _why(found: tuple[int, int] | Refusal) -> tuple[str, ...]:
    return tuple(now_said(reason.sentence) for reason in found.reasons) if isinstance(found, Refusal) else ()


def _level(store: Store, minute: int | None) -> float | None:
    """What is left at a minute, or at the end of the period that now runs."""
    now = ceil_minutes(timezone.now())
    since = max((begin for begin, _ in store.refills if begin <= now), default=None)
    if since is None:
        return None
    period = next(period for period in store.periods if period.span[0] == since)
    content = dict(store.refills)[since]
    return content - store.booked((since, period.span[1] if minute is None else minute))
