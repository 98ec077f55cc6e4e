"""Why there is no plan: the smallest part that has none, or the limit without which there would be one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from scheduling.engine.planner.alike import chains
from scheduling.engine.planner.answers import Reason, Why
from scheduling.engine.planner.loads import Question
from scheduling.engine.planner.nights import as_project, kiln_key, station_key, supply_key
from scheduling.engine.planner.project import Aim, Key, Project, Task
from scheduling.engine.planner.result import Outcome
from scheduling.engine.planner.solving import solve
from scheduling.engine.planner.watched import Effort, Patience

A_MOMENT = Effort(seconds=3.0)


def reasons(question: Question) -> tuple[Reason, ...]:
    """From what is wrong with one load alone to what is too much only together: the first that is found."""
    project = as_project(question)
    for look in (_no_way, _no_time, _gaps, _chains):
        if found := tuple(look(project)):
            return found
    return tuple(_limits(question, project)) or (Reason(why=Why.TOGETHER),)


def _no_way(project: Project) -> Iterator[Reason]:
    yield from (Reason(why=Why.NO_KILN, of=(task.key,)) for task in project.tasks if not task.ways)


def _no_time(project: Project) -> Iterator[Reason]:
    for task in project.tasks:
        if _impossible(_only(project, [task])):
            yield Reason(why=Why.NO_TIME, of=(task.key,))


def _gaps(project: Project) -> Iterator[Reason]:
    tasks = {task.key: task for task in project.tasks}
    for lag in project.lags:
        if _impossible(_only(project, [tasks[lag.before], tasks[lag.after]])):
            yield Reason(why=Why.GAP, of=(lag.before, lag.after))


def _chains(project: Project) -> Iterator[Reason]:
    for chain in chains(project):
        if len(chain) > 2 and _impossible(_only(project, chain)):
            yield Reason(why=Why.CHAIN, of=tuple(task.key for task in chain))


def _limits(question: Question, project: Project) -> Iterator[Reason]:
    """Each limit that alone keeps all of it from being done."""
    for supply in question.supplies:
        if not _impossible(_without(project, [supply_key(supply.id)])):
            yield Reason(why=Why.SUPPLY, of=(supply.id,))
    kilns = {way.kiln_id for firing in question.firings for way in firing.ways}
    if not _impossible(_without(project, [kiln_key(kiln_id) for kiln_id in kilns])):
        yield Reason(why=Why.KILNS, of=tuple(sorted(kilns)))
    stations = {number for step in question.attended for number in step.stations or ()}
    if stations and not _impossible(_without(project, [station_key(number) for number in stations])):
        yield Reason(why=Why.STATIONS, of=tuple(sorted(stations)))
    patient = tuple(replace(lag, greatest=None) for lag in project.lags)
    if patient != project.lags and not _impossible(replace(project, lags=patient)):
        yield Reason(why=Why.GREATEST_GAPS)


def _only(project: Project, tasks: Sequence[Task]) -> Project:
    keys = {task.key for task in tasks}
    lags = tuple(lag for lag in project.lags if lag.before in keys and lag.after in keys)
    return replace(project, tasks=tuple(tasks), lags=lags)


def _without(project: Project, keys: Sequence[Key]) -> Project:
    """The same where these have room for everything at once."""
    roomy = tuple(
        replace(resource, capacity=len(project.tasks) * max(resource.capacity, 1), taken=())
        if resource.key in keys
        else resource
        for resource in project.resources
    )
    return replace(project, resources=roomy)


def _impossible(project: Project) -> bool:
    """Proven so; what is open after a moment is no reason."""
    return solve(project, (Aim.ANY,), patience=Patience(effort=A_MOMENT)).outcome is Outcome.NONE
