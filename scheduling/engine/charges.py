"""Charges: when the pot of a furnace can be filled, early rather than between two sold classes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce

from scheduling.engine.claims import lasting
from scheduling.engine.curves import level
from scheduling.engine.records import (
    EVER,
    SPARE,
    Apparatus,
    ChargePlan,
    Duty,
    Held,
    PhaseSpan,
    PotRecord,
    Reason,
    Refusal,
    StudioRecord,
    World,
)
from scheduling.engine.spans import Span, intersect, union
from scheduling.engine.startspace.windows import free, inside, moving
from scheduling.engine.wording import at, between
from studios.thermal import Phase

Spans = tuple[Span, ...]


def charge_starts(world: World, furnace_id: int, begin: int, until: int) -> Spans:
    """Every start in [begin, until) of a whole charge: all places free, and each charge of it staffed."""
    plan = world.pots[furnace_id].plan
    within = (max(begin, world.now), until)
    if within[0] >= within[1]:
        return ()
    taken = (claim.span for claim in world.taken.get(furnace_id, ()))
    return reduce(intersect, _attended(world, furnace_id), free(taken, 0, plan.total_min, within))


def _attended(world: World, furnace_id: int) -> Iterator[Spans]:
    """For each time that somebody charges, the starts for which somebody who may is there."""
    hours = world.studios[world.apparatus[furnace_id].studio_id].staffed[Duty.CHARGE]
    for first, last in world.pots[furnace_id].plan.staffed:
        yield union(inside(hours, moving(first), moving(last)))


def propose_charge(
    world: World, furnace_id: int, *, kg: float = 0.0, ends_by: int | None = None
) -> Span | Refusal:
    """The earliest whole charge, from turn-up to the end of coming down, by which the pot lasts.

    After it, what is booked until the next charge and `kg` besides leave the pot above its floor. `ends_by`:
    it must be usable again by then. Where none fits within the horizon, the reasons.
    """
    pot = world.pots[furnace_id]
    last = world.horizon[1] if ends_by is None else ends_by
    starts = charge_starts(world, furnace_id, world.now, last - pot.plan.total_min + 1)
    for start, _ in starts:
        # Nothing is drawn while one stretch of starts goes on, so its first start tells for all of it.
        if _lasts(pot, start + pot.plan.total_min, kg):
            return start, start + pot.plan.total_min
    return Refusal(start=world.now, reasons=(_no_charge(world, furnace_id, starts, last),))


def _lasts(pot: PotRecord, usable: int, kg: float) -> bool:
    """Whether a full pot from this minute on is enough until the charge after it."""
    store = pot.store
    following = min((minute for minute, _ in store.refills if minute > usable), default=EVER)
    return store.taken(store.uses, (usable, following)) + kg <= store.full - store.floor + SPARE


def _no_charge(world: World, furnace_id: int, starts: Spans, last: int) -> Reason:
    furnace, plan = world.apparatus[furnace_id], world.pots[furnace_id].plan
    studio = world.studios[furnace.studio_id]
    hours = plan.total_min / 60
    taken = (claim.span for claim in world.taken.get(furnace_id, ()))
    room = free(taken, 0, plan.total_min, (world.now, max(world.now, last - plan.total_min + 1)))
    if starts:
        code, why = "pot-too-small", "what is booked after any charge is more than a full pot gives"
    elif room:
        code, why = (
            "charge-not-staffed",
            f"nobody who may charge is there {plan.charges} times in a row for it",
        )
    else:
        code, why = "furnace-taken", f"its places are never all free for {hours:g} h before"
    return Reason(
        code=code,
        sentence=f"{furnace.name} cannot be charged by {at(last, studio)}: {why}.",
        until=None,
        not_before=None,
    )


def charge_hint(world: World, studio: StudioRecord, furnace_id: int, kg: float, core: Span) -> str:
    """When a charge fits before a session, else the first after it."""
    for ends_by in (core[0], None):
        found = propose_charge(world, furnace_id, kg=kg, ends_by=ends_by)
        if not isinstance(found, Refusal):
            return f"a charge fits from {between(*found, studio)}"
    return "no charge fits within the weeks that were looked at"


def charge_held(world: World, furnace_id: int, start: int) -> tuple[Held, ...]:
    """What a charge holds: every place of the furnace, from turn-up to the end of coming down."""
    furnace, plan = world.apparatus[furnace_id], world.pots[furnace_id].plan
    span = (start, start + plan.total_min)
    return tuple(
        Held(
            apparatus_id=furnace_id,
            place=place,
            span=span,
            exclusive=span,
            phases=lasting(*_phases(furnace, plan, start)),
        )
        for place in range(1, furnace.places + 1)
    )


def _phases(furnace: Apparatus, plan: ChargePlan, start: int) -> Iterator[PhaseSpan]:
    """Turned up, charged with gaps in which it melts, fined, and brought down to working heat."""
    working_c = plan.charging_c if furnace.working_c is None else furnace.working_c
    charges = [(start + first, start + last) for first, last in plan.staffed]
    fined = charges[-1][1] + plan.fining_min
    yield _ramp(Phase.HEAT_UP, (start, charges[0][0]), working_c, plan.charging_c)
    reached = charges[0][0]
    for charge in charges:
        yield level(Phase.HOLDING, (reached, charge[0]), plan.charging_c)
        yield level(Phase.CHARGING, charge, plan.charging_c)
        reached = charge[1]
    yield level(Phase.FINING, (reached, fined), plan.charging_c)
    yield _ramp(Phase.COOLING, (fined, start + plan.total_min), plan.charging_c, working_c)


def _ramp(kind: Phase, span: Span, from_c: float, to_c: float) -> PhaseSpan:
    return PhaseSpan(kind=kind, span=span, from_c=from_c, to_c=to_c)
