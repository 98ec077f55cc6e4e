"""A plan made at once, one chain of work after the other, each task where it ends soonest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from scheduling.engine.planner.alike import chains, in_the_order_given
from scheduling.engine.planner.bounds import in_order
from scheduling.engine.planner.drawn import Drawn
from scheduling.engine.planner.project import Key, Lag, Project
from scheduling.engine.planner.reach import Possible
from scheduling.engine.planner.result import Placed, Placings, counts_from

# How often a chain is begun anew, because something in it would have come too late after something else.
TRIES = 100


def first_guess(project: Project, ways: Possible) -> Placings | None:
    """The plan that is over sooner of two: the chains as they are given, and the longest first."""
    order = in_order(project)
    chained = [{task.key for task in chain} for chain in chains(project)]
    given = [[key for key in order if key in keys] for keys in chained]
    longest = sorted(given, key=lambda chain: -sum(_shortest(ways, key) for key in chain))
    plans = [_plan(project, ways, each) for each in (given, longest)] if order else []
    best = min(filter(None, plans), key=_over, default=None)
    return None if best is None else in_the_order_given(project, best)


def costing_at_most(ways: Possible, most: Mapping[Key, int]) -> Possible:
    """The ways of each task that cost no more than is said."""
    return {
        key: tuple((way, reach) for way, reach in each if way.cost <= most[key]) for key, each in ways.items()
    }


def _over(plan: Placings) -> int:
    return max(placed.end for placed in plan.values())


def _shortest(ways: Possible, key: Key) -> int:
    return min((each.length for _, each in ways[key]), default=0)


def _plan(project: Project, ways: Possible, order: Iterable[Sequence[Key]]) -> Placings | None:
    drawn = Drawn.by(project)
    into: dict[Key, list[Lag]] = {task.key: [] for task in project.tasks}
    for lag in project.lags:
        into[lag.after].append(lag)
    plan: dict[Key, Placed] = {}
    for chain in order:
        laid = _chain(chain, dict.fromkeys(chain, project.within[0]), into, ways, drawn)
        if laid is None:
            return None
        plan |= laid
        for placed in laid.values():
            drawn.add(placed)
    return plan


def _chain(
    chain: Sequence[Key],
    floors: dict[Key, int],
    into: Mapping[Key, Sequence[Lag]],
    ways: Possible,
    drawn: Drawn,
) -> Placings | None:
    """Where something would come too late after something else, the other is put off, and all begun anew."""
    for _ in range(TRIES):
        laid = _as_soon_as_it_goes(chain, floors, into, ways, drawn.copy())
        if len(laid) < len(chain):
            return None
        put_off = _put_off(laid, into)
        if not put_off:
            return laid
        floors.update(put_off)
    return None


def _as_soon_as_it_goes(
    chain: Sequence[Key],
    floors: Mapping[Key, int],
    into: Mapping[Key, Sequence[Lag]],
    ways: Possible,
    drawn: Drawn,
) -> dict[Key, Placed]:
    """Each task where it ends soonest, after those it follows; as far as that goes."""
    laid: dict[Key, Placed] = {}
    for key in chain:
        minute = max([floors[key], *(counts_from(lag, laid) + lag.least for lag in into[key])])
        found = [drawn.soonest(way, reach, minute) for way, reach in ways[key]]
        placed = min(filter(None, found), key=lambda each: (each.end, each.way.cost), default=None)
        if placed is None:
            return laid
        laid[key] = placed
        drawn.add(placed)
    return laid


def _put_off(laid: Mapping[Key, Placed], into: Mapping[Key, Sequence[Lag]]) -> dict[Key, int]:
    """What is followed too late by something, and when it must not start before."""
    return {
        lag.before: laid[lag.before].start + laid[key].start - counts_from(lag, laid) - lag.greatest
        for key in laid
        for lag in into[key]
        if lag.greatest is not None and laid[key].start > counts_from(lag, laid) + lag.greatest
    }
