"""All starts of a class or of bench time within a horizon, to the minute."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence

from scheduling.engine.booked import Changes, Forbidden
from scheduling.engine.people import away, engaged, may_assist
from scheduling.engine.records import Apparatus, Ask, FiringAsk, Placement
from scheduling.engine.search import earliest, place, turns
from scheduling.engine.spans import Span, clip, intersect, subtract, union
from scheduling.engine.startspace.firings import joinable, own_runs, run_starts, runs
from scheduling.engine.startspace.hours import in_hours
from scheduling.engine.startspace.rooms import roomy
from scheduling.engine.startspace.stations import certain_windows
from scheduling.engine.startspace.stores import stored
from scheduling.engine.startspace.supplies import (
    Asked,
    Carried,
    both,
    either,
    run_carried,
    station_carried,
    station_draws,
    together_carried,
)
from scheduling.engine.world import World

Spans = tuple[Span, ...]
FIRST_LOOK_MIN = 3 * 24 * 60


def start_space(world: World, ask: Ask, begin: int, until: int) -> Spans:
    """Every start in [begin, until) that works, as sorted, separate spans.

    The same starts as those for which `place` finds a placement. Where it depends on the choice of equipment
    whether a supply carries it, the choices are tried, from one change to the next.
    """
    within = (max(begin, earliest(world, ask)), until)
    if within[0] >= within[1]:
        return ()
    found = Carried(surely=in_hours(world, ask, within))
    for kind, count in ask.stations:
        found = both(found, station_carried(world, ask, kind, count, within))
    asked = station_draws(world, ask)
    found = together_carried(world, asked, found)
    for need in ask.firings:
        found = _fired(world, ask, need, asked, found)
    found = stored(world, ask, asked, roomy(world, ask, found))
    return union((*found.surely, *_tried(world, ask, found.perhaps)))


def first_start(world: World, ask: Ask, begin: int, until: int) -> int | None:
    """The first start in [begin, until) that works; only as much of the time is looked at as it takes."""
    length, windows = 1, list(certain_windows(world, ask))
    while (begin := _behind(windows, begin, until)) < until:
        found = start_space(world, ask, begin, min(begin + length, until))
        if found:
            return found[0][0]
        begin, length = begin + length, max(FIRST_LOOK_MIN, length * 2)
    return None


def _behind(windows: Sequence[Forbidden], start: int, until: int) -> int:
    """The first minute from a start on that no window forbids: each that does is jumped over."""
    moved = True
    while moved and start < until:
        moved = False
        for begins, ends in windows:
            at = bisect_right(ends, start)
            if at < len(begins) and begins[at] <= start:
                start, moved = ends[at], True
    return start


def _fired(world: World, ask: Ask, need: FiringAsk, asked: Asked, found: Carried) -> Carried:
    """What is left of some starts when the pieces must be fired too, in whichever kiln or annealer."""
    starts = union((*found.surely, *found.perhaps))
    if not starts:
        return found
    alone = _fired_alone(world, ask, need, asked, starts)
    rest = subtract(starts, alone)
    ways = (
        each
        for apparatus in world.allowed(ask, need.kind)
        for each in _fired_in(world, ask, need, apparatus, asked, rest)
    )
    return both(found, either((Carried(surely=alone), *ways)))


def _fired_alone(world: World, ask: Ask, need: FiringAsk, asked: Asked, starts: Spans) -> Spans:
    """The starts that surely have a firing of their own, far from any that they might join.

    Most starts are such, and what stands need not be looked at for them firing by firing.
    """
    if len(ask.firings) > 1:
        return ()
    within: Span = (starts[0][0], starts[-1][1])
    found: list[Span] = []
    for apparatus in world.allowed(ask, need.kind):
        near = [span for _, span in joinable(world, ask, apparatus, within)]
        for run in own_runs(world, ask, need, apparatus, within):
            spans = subtract(intersect(union(run_starts(world, run)), clip(starts, run.starts)), near)
            if spans:
                found.extend(run_carried(world, asked, run, spans, alone=True).surely)
    return union(found)


def _fired_in(
    world: World, ask: Ask, need: FiringAsk, apparatus: Apparatus, asked: Asked, starts: Spans
) -> Iterator[Carried]:
    """In one kiln or annealer: joining comes first, and a firing of its own only where none is joined."""
    joined: list[Span] = []
    alone = len(ask.firings) == 1
    for run in runs(world, ask, need, apparatus, starts):
        near = clip(starts, run.starts)
        spans = intersect(union(run_starts(world, run)), near) if near else ()
        if run.joins is not None:
            joined.extend(spans)
        else:
            spans = subtract(spans, joined)
        if spans:
            yield run_carried(world, asked, run, spans, alone=alone)


def _tried(world: World, ask: Ask, unsure: Spans) -> Iterator[Span]:
    """The starts that work among those of which it is not sure, by placing one after each change."""
    if not unsure:
        return
    events = _Events(world, ask)
    for first, last in unsure:
        start = first
        while start < last:
            answer = place(world, ask, start, keep_hot=False)
            if isinstance(answer, Placement):
                same_until = min(last, start + _slack(answer, events))
                yield start, same_until
                start = same_until
            else:
                bound = answer.not_before
                start = last if bound is None else max(start + 1, bound)


def _away(world: World, ask: Ask) -> Iterator[Span]:
    """The hours that whoever teaches or could assist cannot give."""
    yield from engaged(world, ask)
    for person_id in may_assist(ask):
        yield from away(world, person_id, ask.studio_id)


class _Events:
    """The minutes at which something changes that a start may depend on."""

    def __init__(self, world: World, ask: Ask) -> None:
        self._there = world.changes(ask.studio_id)
        edges = {edge for span in (*_away(world, ask), *ask.over_by) for edge in span}
        self._own = Changes(edges | turns(world, ask) | {world.now})

    def next_from(self, minute: int) -> int | None:
        """The first that is not before a minute."""
        found = (self._there.next_from(minute), self._own.next_from(minute))
        return min((each for each in found if each is not None), default=None)


def _slack(placement: Placement, events: _Events) -> int:
    """How far this placement can be moved on before one of its edges comes to a change, a minute at least.

    An edge that lies on a change crosses it with the next minute.
    """
    edges = {placement.start, placement.end, *placement.person_span}
    for held in (*placement.held, *(firing.held for firing in placement.firings)):
        edges |= {*held.span, *held.exclusive}
        edges |= {edge for _, use in held.draws for edge in use.span}
    for firing in placement.firings:
        edges |= {firing.at_hold, firing.last_in, firing.cool, firing.unload, firing.heat_off}
    ahead = ((events.next_from(edge), edge) for edge in edges)
    nearest = min((minute - edge for minute, edge in ahead if minute is not None), default=1)
    return max(1, min(nearest, placement.slack_min))
