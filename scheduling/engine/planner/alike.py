"""Chains of work that are alike in everything: any one of them may come first."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import replace

from scheduling.engine.planner.project import Key, Lag, Project, Task
from scheduling.engine.planner.result import Placed, Placings


def alike(project: Project) -> tuple[tuple[tuple[Task, ...], ...], ...]:
    """Groups of chains that could change places, each group in the order given."""
    groups: dict[Hashable, list[tuple[Task, ...]]] = {}
    lags = _lags_of_each(project.lags)
    for chain in chains(project):
        groups.setdefault(_looks(chain, lags), []).append(chain)
    return tuple(tuple(group) for group in groups.values() if len(group) > 1)


def in_the_order_given(project: Project, plan: Placings) -> Placings:
    """The same plan, in which of chains that are alike the first given begins first."""
    ordered = dict(plan)
    for group in alike(project):
        for chain, model in zip(group, sorted(group, key=lambda each: plan[each[0].key].start), strict=True):
            ordered |= {mine.key: _as(mine, other, plan) for mine, other in zip(chain, model, strict=True)}
    return ordered


def _as(task: Task, other: Task, plan: Placings) -> Placed:
    """A task as another is placed that has the same ways."""
    placed = plan[other.key]
    at = next(at for at, way in enumerate(other.ways) if way is placed.way)
    return replace(placed, way=task.ways[at])


def chains(project: Project) -> tuple[tuple[Task, ...], ...]:
    """Tasks that hang together by lags, each chain in the order given."""
    chain_of: dict[Key, list[Task]] = {task.key: [task] for task in project.tasks}
    for lag in project.lags:
        one, other = chain_of[lag.before], chain_of[lag.after]
        if one is not other:
            one.extend(other)
            chain_of.update((task.key, one) for task in other)
    order = {task.key: at for at, task in enumerate(project.tasks)}
    different = {id(chain): chain for chain in chain_of.values()}
    return tuple(tuple(sorted(chain, key=lambda task: order[task.key])) for chain in different.values())


def _lags_of_each(lags: Iterable[Lag]) -> Mapping[Key, Sequence[Lag]]:
    found: dict[Key, list[Lag]] = {}
    for lag in lags:
        found.setdefault(lag.before, []).append(lag)
    return found


def _looks(chain: Sequence[Task], lags: Mapping[Key, Sequence[Lag]]) -> Hashable:
    """Everything of a chain but the names of its tasks."""
    at = {task.key: place for place, task in enumerate(chain)}
    bound = {
        (at[lag.before], at[lag.after], lag.least, lag.greatest, lag.since)
        for task in chain
        for lag in lags.get(task.key, ())
    }
    return tuple(task.ways for task in chain), frozenset(bound)
