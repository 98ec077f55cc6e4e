"""Charges: when the pot of a furnace can be filled, early rather than between two sold classes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce

from scheduling.engine.claims import overlap
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
)
from scheduling.engine.spans import Span, covers, first_fit, intersect, union
from scheduling.engine.startspace.windows import free, inside, moving
from scheduling.engine.wording import at, between
from scheduling.engine.world import World
from studios.said import said
from studios.thermal import Phase

Spans = tuple[Span, ...]


def charge_starts(world: World, furnace_id: int, begin: int, until: int) -> Spans:
    """Every start in [begin, until) of a whole charge: all places free, and each charge of it staffed."""
    plan = world.pots[furnace_id].plan
    within = (max(begin, world.now), until)
    if within[0] >= within[1]:
        return ()
    taken = (claim.span for claim in world.claims(furnace_id))
    return reduce(intersect, _attended(world, furnace_id), free(taken, 0, plan.total_min, within))


def _attended(world: World, furnace_id: int) -> Iterator[Spans]:
    """For each time that somebody charges, the starts for which somebody who may is there."""
    hours = world.studios[world.apparatus[furnace_id].studio_id].staffed[Duty.CHARGE]
    for first, last in world.pots[furnace_id].plan.staffed:
        yield union(inside(hours, moving(first), moving(last)))


def propose_charge(
    world: World, furnace_id: int, *, kg: float = 0.0, since: int | None = None, ends_by: int | None = None
) -> Span | Refusal:
    """The earliest whole charge, from turn-up to the end of coming down, by which the pot lasts.

    After it, what is booked until the next charge and `kg` besides leave the pot above its floor. `since`: it
    starts no earlier. `ends_by`: it must be usable again by then. Where none fits, the reasons.
    """
    pot = world.pots[furnace_id]
    last = world.horizon[1] if ends_by is None else ends_by
    begin = world.now if since is None else max(world.now, since)
    starts = charge_starts(world, furnace_id, begin, last - pot.plan.total_min + 1)
    for start, _ in starts:
        # Nothing is drawn while one stretch of starts goes on, so its first start tells for all of it.
        if _lasts(pot, start + pot.plan.total_min, kg):
            return start, start + pot.plan.total_min
    return Refusal(start=world.now, reasons=(_no_charge(world, furnace_id, starts, last),))


def _lasts(pot: PotRecord, usable: int, kg: float) -> bool:
    """Whether a full pot from this minute on is enough until the charge after it."""
    store = pot.store
    following = min((minute for minute, _ in store.refills if minute > usable), default=EVER)
    return store.booked((usable, following)) + kg <= store.full - store.floor + SPARE


def _no_charge(world: World, furnace_id: int, starts: Spans, last: int) -> Reason:
    furnace, plan = world.apparatus[furnace_id], world.pots[furnace_id].plan
    studio = world.studios[furnace.studio_id]
    hours = plan.total_min / 60
    taken = (claim.span for claim in world.claims(furnace_id))
    room = free(taken, 0, plan.total_min, (world.now, max(world.now, last - plan.total_min + 1)))
    if starts:
        code, why = "pot-too-small", said("what is booked after any charge is more than a full pot gives")
    elif room:
        code, why = (
            "charge-not-staffed",
            said("nobody who may charge is there {times} times in a row for it", times=plan.charges),
        )
    else:
        code, why = "furnace-taken", said("its places are never all free for {hours:g} h before", hours=hours)
    return Reason(
        code=code,
        sentence=said(
            "{furnace} cannot be charged by {when}: {why}.",
            furnace=furnace.name,
            when=at(last, studio),
            why=why,
        ),
        until=None,
        not_before=None,
    )


def charge_refused(world: World, furnace_id: int, start: int) -> Refusal | None:
    """Why a whole charge cannot start as asked; None where it can."""
    furnace, plan = world.apparatus[furnace_id], world.pots[furnace_id].plan
    studio = world.studios[furnace.studio_id]
    reasons = [*_in_the_way(world, furnace, studio, start), *_nobody(plan, studio, start)]
    if start < world.now:
        reasons.append(_why("too-soon", said("{when} is in the past", when=at(start, studio)), world.now))
    return Refusal(start=start, reasons=tuple(reasons)) if reasons else None


def _in_the_way(world: World, furnace: Apparatus, studio: StudioRecord, start: int) -> Iterator[Reason]:
    span = (start, start + world.pots[furnace.id].plan.total_min)
    named = set()
    for claim in world.claims(furnace.id):
        if overlap(claim.span, span) and (claim.held_by, claim.span) not in named:
            named.add((claim.held_by, claim.span))
            why = said(
                "{furnace} is held by {who} {hours}, and a charge takes all its places",
                furnace=furnace.name,
                who=claim.held_by,
                hours=between(*claim.span, studio),
            )
            yield _why("furnace-taken", why, claim.span[1])


def _nobody(plan: ChargePlan, studio: StudioRecord, start: int) -> Iterator[Reason]:
    hours = studio.staffed[Duty.CHARGE]
    for first, last in plan.staffed:
        if not covers(hours, start + first, start + last):
            when = between(start + first, start + last, studio)
            fit = first_fit(hours, start + first, last - first)
            sentence = said("Nobody who may charge is there {hours}, when it is to be charged", hours=when)
            yield _why("charge-not-staffed", sentence, None if fit is None else fit - first)


def _why(code: str, sentence: str, not_before: int | None) -> Reason:
    return Reason(
        code=code, sentence=said("{sentence}.", sentence=sentence), until=not_before, not_before=not_before
    )


def charge_hint(world: World, studio: StudioRecord, furnace_id: int, kg: float, within: Span) -> str:
    """When a charge fits between the one before a session and the session, else the first after that."""
    for ends_by in (within[1], None):
        found = propose_charge(world, furnace_id, kg=kg, since=within[0], ends_by=ends_by)
        if not isinstance(found, Refusal):
            return said("a charge fits from {hours}", hours=between(*found, studio))
    return said("no charge fits within the weeks that were looked at")


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
            laid=lambda: tuple(_phases(furnace, plan, start)),
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
