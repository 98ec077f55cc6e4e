"""Annealers and kilns: a new firing, or a place in one that stands, and the hours each comes to."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from scheduling.engine.claims import Blocked, draws
from scheduling.engine.curves import laid, level, temperature_at
from scheduling.engine.heat import lightable, unlit
from scheduling.engine.records import (
    Apparatus,
    Ask,
    Duty,
    FiringAsk,
    FiringHeld,
    FiringRecord,
    Held,
    Kind,
    Lot,
    PhaseSpan,
    StudioRecord,
    Taken,
)
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.waiting import longest_wait, waits
from scheduling.engine.wording import at, between, degrees, holders
from scheduling.engine.world import World
from studios.said import said, unstopped
from studios.thermal import (
    Body,
    FiringPlan,
    Phase,
    Piece,
    Policy,
    Recipe,
    ThermalError,
    compatible,
    holding_kwh,
    plan_firing,
    whole_minutes_up,
)


@dataclass(frozen=True, kw_only=True)
class Unrunnable:
    """Loads that a kiln or annealer cannot fire, or not with anybody there to unload it; `says` why."""

    says: str


@lru_cache(maxsize=4096)
def program(
    recipe: Recipe, pieces: tuple[Piece, ...], body: Body, policy: Policy, most_segments: int | None = None
) -> FiringPlan:
    """The firing plan for these pieces; the same question is computed once."""
    return plan_firing(recipe=recipe, pieces=pieces, body=body, policy=policy, most_segments=most_segments)


def lot_of(ask: Ask, need: FiringAsk, apparatus: Apparatus, start: int) -> Lot:
    """Hot pieces go into an annealer while the class works; a kiln is loaded when it has ended."""
    end = start + ask.teach_min
    closed = end + apparatus.prepare_min
    span = (closed, closed) if need.kind is Kind.KILN else (start, end)
    return Lot(
        piece=need.piece,
        footprint_cm2=need.footprint_cm2,
        in_from=span[0],
        in_until=span[1],
        held_by=ask.title,
    )


def run(
    studio: StudioRecord,
    apparatus: Apparatus,
    recipe: Recipe,
    lots: tuple[Lot, ...],
    *,
    joins: FiringRecord | None = None,
    lit_before: int | None = None,
    wait_min: int = 0,
) -> FiringHeld | Unrunnable:
    """The firing that these loads make: heat-up, hold until the last piece is in, program, wait, unload.

    An annealer is at its holding temperature for the first piece. The end waits for the first staffed
    minutes in which the whole unloading fits; the waiting counts as occupied. A firing that it `joins` (or
    that loses a load) and that was `lit_before` this minute stays as hot as it is: it is at hold as it was,
    and its soak does not begin in the past. The program of a kiln starts so many minutes after its door is
    closed, or as late as it stands.
    """
    ready, last_in = min(lot.in_from for lot in lots), max(lot.in_until for lot in lots)
    body = apparatus.body_at(ready)
    if body is None:
        return Unrunnable(says=said("has no thermal record", many="have no thermal record"))
    pieces = tuple(dict.fromkeys(lot.piece for lot in lots))
    try:
        plan = program(recipe, pieces, body, studio.policy, apparatus.controller_segments)
    except ThermalError as error:
        return Unrunnable(says=said("cannot fire this: {why}", why=unstopped(error.said)))
    if joins is not None and lit_before is not None:
        ready, last_in = min(ready, joins.ready), max(last_in, min(lit_before, joins.last_in))
    if apparatus.kind is Kind.KILN:
        last_in = ready + (wait_min if joins is None else joins.last_in - joins.ready)
    cool = last_in + plan.tail_min
    unload = first_fit(studio.staffed[Duty.UNLOAD], cool, apparatus.clear_min)
    if unload is None:
        return Unrunnable(
            says=said("would be cool at {when}, and nobody is there to unload it", when=at(cool, studio))
        )
    joined = joins.id if joins is not None else None
    return _as_held(apparatus, plan, lots, (ready, last_in, cool, unload), joined)


def _as_held(
    apparatus: Apparatus,
    plan: FiringPlan,
    lots: tuple[Lot, ...],
    moments: tuple[int, int, int, int],
    joins: int | None,
) -> FiringHeld:
    ready, last_in, cool, unload = moments
    kiln = plan.recipe is not Recipe.ANNEAL
    span = (ready - (apparatus.prepare_min if kiln else plan.heat_up_min), unload + apparatus.clear_min)
    title = holders(lot.held_by for lot in lots)
    heat_off = last_in + plan.switching_min
    return FiringHeld(
        held=Held(
            apparatus_id=apparatus.id,
            place=1,
            span=span,
            exclusive=span,
            laid=partial(_phases, apparatus, plan, moments),
            draws=draws(apparatus, (last_in if kiln else ready - plan.heat_up_min, heat_off), title),
        ),
        recipe=plan.recipe,
        lots=lots,
        joins=joins,
        hold_c=plan.hold_c,
        at_hold=ready,
        last_in=last_in,
        below_strain=last_in + whole_minutes_up(plan.tail.falls_to(plan.strain_c)),
        cool=cool,
        unload=unload,
        heat_off=heat_off,
        plan=plan,
        energy_kwh=plan.energy_kwh + holding_kwh(plan.body, plan.hold_c, (last_in - ready) * (not kiln)),
    )


def _phases(
    apparatus: Apparatus, plan: FiringPlan, moments: tuple[int, int, int, int]
) -> tuple[PhaseSpan, ...]:
    ready, last_in, cool, unload = moments
    kiln = plan.recipe is not Recipe.ANNEAL
    tail = laid(plan.tail, last_in)
    door_c = tail[-1].to_c
    return (
        level(Phase.LOADING, (ready - apparatus.prepare_min * kiln, ready)),
        *laid(plan.heat_up, ready - plan.heat_up_min),
        level(Phase.WAITING, (ready, last_in), plan.body.ambient_c)
        if kiln
        else level(Phase.HOLDING, (ready, last_in), plan.hold_c),
        *tail,
        level(Phase.WAITING, (cool, unload), door_c),
        level(Phase.UNLOADING, (unload, unload + apparatus.clear_min), door_c),
    )


def too_small(apparatus: Apparatus, need: FiringAsk) -> Blocked | None:
    """Whether the shelf has too little room for the pieces, also when it is empty."""
    if need.footprint_cm2 <= apparatus.capacity_cm2:
        return None
    says = said(
        "has {room} cm² of shelf, {needed} are needed",
        many="have {room} cm² of shelf, {needed} are needed",
        room=apparatus.capacity_cm2,
        needed=need.footprint_cm2,
    )
    return Blocked(name=apparatus.name, says=says)


def joinings(world: World, apparatus: Apparatus, lot: Lot, start: int) -> Iterator[FiringHeld | Blocked]:
    """What comes of joining each firing in turn, up to the first that is too far ahead."""
    since = lot.in_from - world.studios[apparatus.studio_id].hold_gap_min
    for taken in annealings(world, apparatus, since):
        way = _join(world, apparatus, taken, lot, start)
        if way is not None:
            yield way
        if isinstance(way, Blocked) and not way.says:
            return


def annealings(world: World, apparatus: Apparatus, since: int) -> Iterator[Taken]:
    """The firings of hot pieces in an annealer that end after a minute; others may join while they hold."""
    if apparatus.kind is not Kind.ANNEALER:
        return
    for taken in world.claims(apparatus.id).ending_after(since, 1):
        if taken.firing is not None and taken.firing.recipe is Recipe.ANNEAL:
            yield taken


def _join(
    world: World, apparatus: Apparatus, taken: Taken, lot: Lot, start: int
) -> FiringHeld | Blocked | None:
    """Compatible glass joins a firing as long as its room, its hours and what follows allow.

    None: the holds are over, or too far apart for an idle hold between them.
    """
    firing, studio = taken.firing, world.studios[apparatus.studio_id]
    if firing is None:
        return None
    latest = firing.last_in + (studio.hold_gap_min if world.now < firing.last_in else 0)
    if lot.in_from > latest:
        return None
    if why := unfit(studio, apparatus, firing, lot):
        return _held_hot(world, apparatus, taken, lot, why) if _near(studio, firing, lot) else None
    if not _near(studio, firing, lot):
        near = firing.ready - studio.hold_gap_min
        return Blocked(name=apparatus.name, says="", not_before=start + near - lot.in_until)
    return _joined(world, apparatus, taken, firing, lot)


def _joined(
    world: World, apparatus: Apparatus, taken: Taken, firing: FiringRecord, lot: Lot
) -> FiringHeld | Blocked:
    """The firing with the new load in it, or what its new hours run into."""
    studio = world.studios[apparatus.studio_id]
    lit_before = world.now if taken.span[0] <= world.now else None
    joined = run(studio, apparatus, firing.recipe, (*firing.lots, lot), joins=firing, lit_before=lit_before)
    if isinstance(joined, Unrunnable):
        return Blocked(name=apparatus.name, says=joined.says)
    if clash := _clash(world, apparatus, joined, taken):
        return clash
    if lit_before is not None:
        return _unattended_now(world, apparatus, joined) or joined
    unattended = _unattended(world, apparatus, joined, lot.in_from)
    lit_anyway = joined.held.span[0] >= taken.span[0]
    if unattended is None or (lit_anyway and not apparatus.gas_fired):
        return joined
    # Pieces that come once the firing is at hold need nobody to light it.
    bounds = [bound for bound in (unattended.not_before, firing.ready) if bound is not None]
    return replace(unattended, not_before=max(lot.in_from + 1, min(bounds)))


def _near(studio: StudioRecord, firing: FiringRecord, lot: Lot) -> bool:
    return lot.in_until >= firing.ready - studio.hold_gap_min


def unfit(studio: StudioRecord, apparatus: Apparatus, firing: FiringRecord, lot: Lot) -> str:
    """Why pieces cannot share a firing at whatever time: their glass, or the room on the shelf."""
    for other in firing.lots:
        if not compatible(other.piece.glass, lot.piece.glass, studio.policy):
            return _stranger(lot, other, studio)
    free = apparatus.capacity_cm2 - sum(other.footprint_cm2 for other in firing.lots)
    if free < lot.footprint_cm2:
        return said(
            "it has room for {free} cm² more, {needed} are needed", free=free, needed=lot.footprint_cm2
        )
    return ""


def _stranger(lot: Lot, other: Lot, studio: StudioRecord) -> str:
    mine, theirs = lot.piece.glass, other.piece.glass
    return said(
        "{mine} anneals at {at_mine}, {theirs} at {at_theirs}: they cannot share a firing",
        mine=mine.name,
        at_mine=degrees(mine.annealing_c, studio),
        theirs=theirs.name,
        at_theirs=degrees(theirs.annealing_c, studio),
    )


def fresh(world: World, need: FiringAsk, apparatus: Apparatus, lot: Lot, start: int) -> FiringHeld | Blocked:
    """A firing of its own, if the equipment stands free from its heat-up to its unloading."""
    studio = world.studios[apparatus.studio_id]
    firing = run(studio, apparatus, need.recipe, (lot,))
    if isinstance(firing, Unrunnable):
        return Blocked(name=apparatus.name, says=firing.says)
    clash = _clash(world, apparatus, firing, None)
    if clash is not None and clash.until is not None:
        return replace(clash, not_before=clash.until + start - firing.held.span[0])
    blocked = _unattended(world, apparatus, firing, start)
    if blocked is None or not longest_wait(apparatus):
        return blocked or firing
    return _patient(world, apparatus, firing, start, blocked)


def _patient(
    world: World, apparatus: Apparatus, firing: FiringHeld, start: int, blocked: Blocked
) -> FiringHeld | Blocked:
    """A kiln that is loaded when somebody is there may wait until its gas is minded."""
    hours = world.studios[apparatus.studio_id].staffed[Duty.LOAD]
    loaded, bound = covers(hours, firing.held.span[0], firing.at_hold), blocked.not_before
    if loaded and waits(world, apparatus, firing):
        return firing
    if not loaded or bound is None:
        return blocked
    return replace(blocked, not_before=max(start + 1, bound - longest_wait(apparatus)))


def _unattended(world: World, apparatus: Apparatus, firing: FiringHeld, start: int) -> Blocked | None:
    """A kiln is loaded by somebody who is there; an annealer is lit in time, by somebody where it must be.

    What burns gas is attended from lighting until its program has ended.
    """
    begin, studio = firing.held.span[0], world.studios[apparatus.studio_id]
    heated = lightable(world, apparatus)
    hours = studio.staffed[Duty.LOAD] if apparatus.kind is Kind.KILN else heated
    if not covers(hours, begin, firing.at_hold):
        says = (
            said(
                "has nobody there for loading at {when}",
                many="have nobody there for loading at {when}",
                when=at(begin, studio),
            )
            if apparatus.kind is Kind.KILN
            else unlit(world, apparatus, begin, firing.hold_c)
        )
        return _later(apparatus, hours, (begin, firing.at_hold), start, says)
    burning = (firing.last_in if apparatus.kind is Kind.KILN else firing.at_hold, firing.heat_off)
    if apparatus.gas_fired and not covers(heated, *burning):
        return _later(apparatus, heated, burning, start, _burns(burning, studio))
    return None


def _later(apparatus: Apparatus, hours: tuple[Span, ...], span: Span, start: int, says: str) -> Blocked:
    """Blocked until so long a span fits into the hours."""
    fit = first_fit(hours, span[0] + 1, span[1] - span[0])
    bound = None if fit is None else fit + start - span[0]
    return Blocked(name=apparatus.name, says=says, until=fit, not_before=bound)


def _unattended_now(world: World, apparatus: Apparatus, firing: FiringHeld) -> Blocked | None:
    """Who minds a gas firing that is lit is there from now on; minutes that are past ask for nobody.

    It never burns for less long when the pieces come later, so no later start is any better.
    """
    burning = (world.now, firing.heat_off)
    if not apparatus.gas_fired or covers(lightable(world, apparatus), *burning):
        return None
    studio = world.studios[apparatus.studio_id]
    return Blocked(name=apparatus.name, says=_burns(burning, studio))


def _burns(burning: Span, studio: StudioRecord) -> str:
    return said("burns gas from {hours}, and nobody is there all that time", hours=between(*burning, studio))


def unlightable(world: World, firing: FiringHeld) -> bool:
    """Whether a firing would have to be lit in the past, or when nobody is there who may and must be."""
    apparatus = world.apparatus[firing.held.apparatus_id]
    return _unattended(world, apparatus, firing, firing.at_hold) is not None


def _clash(world: World, apparatus: Apparatus, firing: FiringHeld, itself: Taken | None) -> Blocked | None:
    """What else has the equipment between the heat-up and the unloading of this firing."""
    for taken in world.claims(apparatus.id).meeting(*firing.held.exclusive, 1):
        if taken is not itself:
            joining, this = said("joining the firing before it would last"), said("this class would need it")
            why = joining if itself else this
            return _held_hot(world, apparatus, taken, firing.lots[-1], why, firing.held.exclusive)
    return None


def _held_hot(
    world: World, apparatus: Apparatus, taken: Taken, lot: Lot, why: str, needed: Span | None = None
) -> Blocked:
    """Equipment in use: by what, how hot it would be when the pieces come, and when it is free again."""
    studio, free = world.studios[apparatus.studio_id], taken.span[1]

    def says() -> str:
        hot = _temperature(world, apparatus, taken, lot.in_from)
        return said(
            "is {doing}{how_hot} and comes free at {free}; {why}{hours}",
            many="are {doing}{how_hot} and comes free at {free}; {why}{hours}",
            doing=_doing(taken),
            how_hot="" if hot is None else _how_hot(hot, lot, studio),
            free=at(free, studio),
            why=why,
            hours="" if needed is None else said(" from {hours}", hours=between(*needed, studio)),
        )

    return Blocked(name=apparatus.name, says=says, until=free, by=taken)


def _doing(taken: Taken) -> str:
    if taken.outage:
        return said("out of use ({why})", why=taken.held_by)
    return said("taken by {who}", who=taken.held_by)


def _how_hot(celsius: float, lot: Lot, studio: StudioRecord) -> str:
    return said(
        ", would be at {degrees} at {when}", degrees=degrees(celsius, studio), when=at(lot.in_from, studio)
    )


def _temperature(world: World, apparatus: Apparatus, taken: Taken, minute: int) -> float | None:
    if taken.firing is None:
        return None
    record, studio = taken.firing, world.studios[apparatus.studio_id]
    firing = run(studio, apparatus, record.recipe, record.lots, joins=record, lit_before=record.last_in)
    return None if isinstance(firing, Unrunnable) else temperature_at(firing.held.phases, minute)
