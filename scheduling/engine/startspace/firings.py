"""The starts at which pieces can be fired: in a firing of their own, or in one that stands."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from itertools import pairwise

from scheduling.engine.heat import lightable
from scheduling.engine.kilns import annealings, program, unfit
from scheduling.engine.records import Apparatus, Ask, Duty, FiringAsk, FiringRecord, Kind, Lot, Taken
from scheduling.engine.spans import Span, clip, intersect, overlapping, union
from scheduling.engine.startspace.stations import record_spans
from scheduling.engine.startspace.windows import (
    FAR,
    Edge,
    fixed,
    from_on,
    gaps,
    inside,
    meet,
    moving,
    until,
)
from scheduling.engine.waiting import latest_unloading, longest_wait
from scheduling.engine.world import World
from studios.thermal import FiringPlan, Piece, Recipe, ThermalError

Spans = tuple[Span, ...]


@dataclass(frozen=True, kw_only=True)
class Run:
    """How one firing would run for a stretch of starts: its program, and its moments as edges."""

    apparatus: Apparatus
    plan: FiringPlan
    starts: Span
    ready: Edge
    last_in: Edge
    lit: bool
    joins: Taken | None

    @property
    def begin(self) -> Edge:
        """Lighting, or the door open for loading."""
        loading = 0 if self.plan.recipe is Recipe.ANNEAL else self.apparatus.prepare_min
        return self.ready.plus(-self.plan.heat_up_min - loading)

    @property
    def lit_at(self) -> Edge:
        """When its heat is first switched on."""
        return self.ready.plus(-self.plan.heat_up_min)

    @property
    def longest_wait(self) -> int:
        """The minutes for which it may stand loaded before its program starts."""
        return longest_wait(self.apparatus) if self.joins is None else 0

    @property
    def cool(self) -> Edge:
        return self.last_in.plus(self.plan.tail_min)

    @property
    def heat_off(self) -> Edge:
        return self.last_in.plus(self.plan.switching_min)


def runs(world: World, ask: Ask, need: FiringAsk, apparatus: Apparatus, starts: Spans) -> Iterator[Run]:
    """The ways into one kiln or annealer: each firing that may be joined, then one of its own."""
    if need.footprint_cm2 > apparatus.capacity_cm2 or not starts:
        return
    for taken, near in joinable(world, ask, apparatus, (starts[0][0], starts[-1][1])):
        if clip(starts, near):
            yield from _joined(world, ask, need, apparatus, taken, near)
    yield from own_runs(world, ask, need, apparatus, (starts[0][0], starts[-1][1]))


def joinable(world: World, ask: Ask, apparatus: Apparatus, within: Span) -> Iterator[tuple[Taken, Span]]:
    """The firings that stand in an annealer, each with the starts that are near enough to join it."""
    gap = world.studios[apparatus.studio_id].hold_gap_min
    for taken in annealings(world, apparatus, within[0] - gap):
        if taken.span[0] > within[1] + ask.teach_min + gap:
            return
        if (firing := taken.firing) is not None:
            latest = firing.last_in + (gap if world.now < firing.last_in else 0)
            near = meet(within, (firing.ready - gap - ask.teach_min, latest + 1))
            if near[0] < near[1]:
                yield taken, near


def _lot_edges(ask: Ask, need: FiringAsk, apparatus: Apparatus) -> tuple[Edge, Edge]:
    if need.kind is Kind.KILN:
        closed = moving(ask.teach_min + apparatus.prepare_min)
        return closed, closed
    return moving(0), moving(ask.teach_min)


def own_runs(world: World, ask: Ask, need: FiringAsk, apparatus: Apparatus, within: Span) -> Iterator[Run]:
    """A firing of its own, for each thermal record that is in force meanwhile."""
    if need.footprint_cm2 > apparatus.capacity_cm2:
        return
    ready, last_in = _lot_edges(ask, need, apparatus)
    for since, before in record_spans(apparatus):
        starts = meet(within, from_on(ready, since), until(ready, before - 1))
        if starts[0] >= starts[1]:
            continue
        plan = _plan(world, apparatus, need.recipe, (need.piece,), since)
        if plan is not None:
            yield Run(
                apparatus=apparatus,
                plan=plan,
                starts=starts,
                ready=ready,
                last_in=last_in,
                lit=False,
                joins=None,
            )


def _joined(
    world: World, ask: Ask, need: FiringAsk, apparatus: Apparatus, taken: Taken, near: Span
) -> Iterator[Run]:
    """A firing that stands, with the new pieces in it, as far as it is held or may be held on for them."""
    firing, studio = taken.firing, world.studios[apparatus.studio_id]
    if firing is None or unfit(studio, apparatus, firing, _some_lot(need, ask)):
        return
    joining = _Joining(world=world, ask=ask, apparatus=apparatus, taken=taken, firing=firing)
    pieces = tuple(dict.fromkeys((*(lot.piece for lot in firing.lots), need.piece)))
    for stretch in joining.stretches(near):
        ready = moving(0) if stretch[0] < joining.first else fixed(joining.first)
        plan = _plan(world, apparatus, firing.recipe, pieces, ready.at(stretch[0]))
        if plan is not None:
            yield joining.run(plan, stretch, ready)


@dataclass(frozen=True, kw_only=True)
class _Joining:
    """Pieces on their way into a firing that stands."""

    world: World
    ask: Ask
    apparatus: Apparatus
    taken: Taken
    firing: FiringRecord

    @property
    def first(self) -> int:
        """When the first piece that is in it now goes in."""
        return min(lot.in_from for lot in self.firing.lots)

    @property
    def last(self) -> int:
        return max(lot.in_until for lot in self.firing.lots)

    @property
    def lit(self) -> bool:
        return self.taken.span[0] <= self.world.now

    def stretches(self, near: Span) -> Iterator[Span]:
        """The starts near it, parted where another load becomes the first or the last in it."""
        held = min(self.world.now, self.firing.last_in)
        parts = {self.first, self.firing.ready}
        parts |= {end - self.ask.teach_min for end in (self.last, held)}
        parts |= {since for since, _ in self.apparatus.bodies[1:]}
        cuts = [near[0], *sorted(part for part in parts if near[0] < part < near[1]), near[1]]
        yield from pairwise(cuts)

    def run(self, plan: FiringPlan, stretch: Span, ready: Edge) -> Run:
        """Its moments over one such stretch; a firing that is lit stays as hot as it is."""
        start, teach = stretch[0], self.ask.teach_min
        last_in = moving(teach) if start + teach >= self.last else fixed(self.last)
        if self.lit:
            ready = ready if ready.at(start) < self.firing.ready else fixed(self.firing.ready)
            held = min(self.world.now, self.firing.last_in)
            last_in = last_in if last_in.at(start) >= held else fixed(held)
        return Run(
            apparatus=self.apparatus,
            plan=plan,
            starts=stretch,
            ready=ready,
            last_in=last_in,
            lit=self.lit,
            joins=self.taken,
        )


def _some_lot(need: FiringAsk, ask: Ask) -> Lot:
    return Lot(piece=need.piece, footprint_cm2=need.footprint_cm2, in_from=0, in_until=0, held_by=ask.title)


def _plan(
    world: World, apparatus: Apparatus, recipe: Recipe, pieces: tuple[Piece, ...], ready: int
) -> FiringPlan | None:
    body, studio = apparatus.body_at(ready), world.studios[apparatus.studio_id]
    if body is None:
        return None
    try:
        return program(recipe, pieces, body, studio.policy, apparatus.controller_segments)
    except ThermalError:
        return None


def run_starts(world: World, run: Run, carried: Spans | None = None) -> Iterator[Span]:
    """The starts at which the equipment stands free for a run, and somebody is there when it needs them.

    Where its program may wait it runs as that of a later start, one that supplies have `carried`, if given.
    """
    if run.longest_wait:
        yield from _waiting_starts(world, run, carried)
        return
    attended = _attended(world, run)
    if not attended:
        return
    staffed = world.studios[run.apparatus.studio_id].staffed[Duty.UNLOAD]
    for gap in gaps(_others(world, run)):
        latest = latest_unloading(staffed, gap[1], run.apparatus.clear_min)
        if latest is not None:
            room = meet(run.starts, from_on(run.begin, gap[0]), until(run.cool, latest))
            if room[0] < room[1]:
                yield from clip(attended, room)


def _waiting_starts(world: World, run: Run, carried: Spans | None) -> Iterator[Span]:
    """A kiln is loaded when somebody is there, and stands free until it is unloaded after its wait."""
    studio, wait = world.studios[run.apparatus.studio_id], run.longest_wait
    loading = run.begin.at(run.starts[0]), run.ready.at(run.starts[1])
    loaded = inside(overlapping(studio.staffed[Duty.LOAD], *loading), run.begin, run.ready)
    programs = _minded(world, run) if carried is None else intersect(_minded(world, run), carried)
    for gap in gaps(_others(world, run)):
        latest = latest_unloading(studio.staffed[Duty.UNLOAD], gap[1], run.apparatus.clear_min)
        if latest is not None:
            room = meet(run.starts, from_on(run.begin, gap[0]))
            over_in_time = clip(programs, until(run.cool, latest))
            waited = union((first - wait, last) for first, last in over_in_time)
            yield from intersect(clip(loaded, room), waited)


def _minded(world: World, run: Run) -> Spans:
    """The starts, and the waits of the last of them, from which on somebody minds what gas it burns."""
    near = run.starts[0], run.starts[1] + run.longest_wait
    if not run.apparatus.gas_fired:
        return (near,)
    hours = overlapping(lightable(world, run.apparatus), run.ready.at(near[0]), run.heat_off.at(near[1]))
    return clip(inside(hours, run.ready, run.heat_off), near)


def _others(world: World, run: Run) -> Iterator[Span]:
    """What else is taken from where a run may begin on, up to the next after where it may end."""
    claims = world.claims(run.apparatus.id)
    first, last = run.begin.at(run.starts[0]), run.cool.at(run.starts[1]) + run.longest_wait
    for taken in claims.ending_after(first, 1):
        if taken is not run.joins:
            yield taken.span
            if taken.span[0] >= last:
                return


def _attended(world: World, run: Run) -> Spans:
    apparatus = run.apparatus
    if run.lit and not apparatus.gas_fired:
        return ((-FAR, FAR),)
    near = run.begin.at(run.starts[0]), run.heat_off.at(run.starts[1])
    heated = overlapping(lightable(world, apparatus), *near)
    if run.lit:
        return inside(heated, fixed(world.now), run.heat_off)
    if apparatus.kind is Kind.KILN:
        loaded = overlapping(world.studios[apparatus.studio_id].staffed[Duty.LOAD], *near)
        conditions = [inside(loaded, run.begin, run.ready)]
    else:
        conditions = [inside(heated, run.begin, run.ready)]
    if apparatus.gas_fired:
        conditions.append(inside(heated, run.ready, run.heat_off))
    attended = reduce(intersect, conditions)
    if run.joins is None or apparatus.gas_fired:
        return attended
    # Nobody need light what will be lit when it is lit anyway.
    return union((*attended, from_on(run.begin, run.joins.span[0])))
