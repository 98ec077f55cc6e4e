"""What no plan can undercut: the minute before which the last task cannot end."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from graphlib import CycleError, TopologicalSorter
from heapq import heapify, heapreplace
from itertools import product

from scheduling.engine.planner.alone import held_alone, lone, on_each, soonest_end
from scheduling.engine.planner.project import Key, Project, Side
from scheduling.engine.planner.reach import Possible, Reach


def in_order(project: Project) -> tuple[Key, ...]:
    """The tasks, each after those it follows. None where lags go in circles."""
    graph: dict[Key, list[Key]] = {task.key: [] for task in project.tasks}
    for lag in project.lags:
        graph[lag.after].append(lag.before)
    try:
        return tuple(TopologicalSorter(graph).static_order())
    except CycleError:
        return ()


def least_finish(project: Project, ways: Possible) -> int:
    """The later of what the longest chain takes, and of what all together take of the kilns that they share.

    Where not all of it can be done, that is the minute after the project ends.
    """
    order = in_order(project)
    before, after = heads(project, ways, order), _tails(project, ways, order)
    alone = [_soonest(ways, key, before[key]) + after[key] for key in order]
    soonest = max([project.within[0], *alone, *_of_shared_kilns(project, ways, before, after)])
    return min(soonest, project.within[1] + 1)


def _soonest(ways: Possible, key: Key, minute: int) -> int:
    """The soonest end of a task that starts at a minute or later."""
    return soonest_end([each for _, each in ways[key]], minute)


def heads(project: Project, ways: Possible, order: Sequence[Key]) -> dict[Key, int]:
    """The minute before which each task cannot start, since others come first."""
    soonest = dict.fromkeys(order, project.within[0])
    for key in order:
        for lag in project.lags:
            if lag.before == key:
                since = _soonest(ways, key, soonest[key]) if lag.since is Side.END else soonest[key]
                soonest[lag.after] = max(soonest[lag.after], since + lag.least)
    return soonest


def _tails(project: Project, ways: Possible, order: Sequence[Key]) -> dict[Key, int]:
    """The minutes that must still pass after each task ends, since others come after it."""
    tails = dict.fromkeys(order, 0)
    for key in reversed(order):
        shortest = min((each.length for _, each in ways[key]), default=0)
        for lag in project.lags:
            if lag.after == key and lag.since is Side.END:
                tails[lag.before] = max(tails[lag.before], lag.least + shortest + tails[key])
    return tails


def _of_shared_kilns(
    project: Project, ways: Possible, before: Mapping[Key, int], after: Mapping[Key, int]
) -> Iterator[int]:
    """Of those that come late, or that much comes after: when so many can be through the kilns they share."""
    kilns = {key: held for key in before if (held := _kilns_of(project, ways, key))}
    for shared in set(kilns.values()):
        inside = [key for key, held in kilns.items() if held <= shared]
        for head, tail in product({before[key] for key in inside}, {after[key] for key in inside}):
            late = [key for key in inside if before[key] >= head and after[key] >= tail]
            if late:
                every = list(on_each(project, ways, late).values())
                yield _when_so_many_are_through(every, len(late), head) + tail


def _kilns_of(project: Project, ways: Possible, key: Key) -> frozenset[Key]:
    """What a task may have to itself from start to end; nothing where one of its ways needs nothing so."""
    alone = lone(project)
    held = {held_alone(way, alone) for way, _ in ways[key]}
    return frozenset() if None in held else frozenset(held)


def _when_so_many_are_through(kilns: Sequence[Collection[Reach]], count: int, minute: int) -> int:
    """Every kiln takes whatever is ready soonest, over and over: no plan has more through by then."""
    queue = [(soonest_end(reaches, minute), at) for at, reaches in enumerate(kilns)]
    heapify(queue)
    for _ in range(count - 1):
        ended, at = queue[0]
        heapreplace(queue, (soonest_end(kilns[at], ended), at))
    return queue[0][0]
