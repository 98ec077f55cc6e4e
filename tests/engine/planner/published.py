"""Instances of the literature as projects (fixtures/rcpsp/README.md names the papers)."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

from scheduling.engine.planner.project import Draw, Key, Lag, Project, Resource, Side, Task, Way

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "rcpsp"


def optima() -> dict[str, int | str]:
    """The least makespan of each instance, or `unsat`."""
    instances = json.loads((FOLDER / "optima.json").read_text())["instances"]
    return {name: facts["optimum"] for name, facts in instances.items()}


def instance(name: str) -> Project:
    return READERS[name.rpartition(".")[2]]((FOLDER / name).read_text())


def _project_of_psplib(text: str) -> Project:
    rows = [[int(number) for number in re.findall(r"\d+", line)] for line in text.splitlines()]
    titles = [line.split(":")[0].split("  ")[0] for line in text.splitlines()]
    jobs = rows[next(at for at, title in enumerate(titles) if title.startswith("jobs"))][0]
    after = titles.index("PRECEDENCE RELATIONS") + 2
    needs = titles.index("REQUESTS/DURATIONS") + 3
    capacities = rows[titles.index("RESOURCEAVAILABILITIES") + 2]
    lags = [Lag(before=row[0], after=other) for row in rows[after : after + jobs] for other in row[3:]]
    tasks = [_task(row[0], row[2], row[3:]) for row in rows[needs : needs + jobs]]
    return _project(tasks, capacities, lags)


def _project_of_progen_max(text: str) -> Project:
    """A task for each node; [d] on an arc from i to j says start of j >= start of i + d."""
    lines = text.splitlines()
    jobs = int(lines[0].split()[0]) + 2
    lags = [lag for line in lines[1 : jobs + 1] for lag in _arcs(line)]
    rows = [[int(number) for number in line.split()] for line in lines[jobs + 1 : 2 * jobs + 1]]
    capacities = [int(number) for number in lines[2 * jobs + 1].split()]
    return _project([_task(row[0], row[2], row[3:]) for row in rows], capacities, lags)


def _arcs(line: str) -> list[Lag]:
    distances = [int(number) for number in re.findall(r"\[(-?\d+)\]", line)]
    numbers = [int(number) for number in line.partition("[")[0].split()]
    return [_arc(numbers[0], to, distance) for to, distance in zip(numbers[3:], distances, strict=True)]


def _arc(begin: int, to: int, distance: int) -> Lag:
    """Back by so many minutes at most is the greatest lag of the other direction."""
    if distance < 0:
        return Lag(before=to, after=begin, least=-(10**6), greatest=-distance, since=Side.START)
    return Lag(before=begin, after=to, least=distance, since=Side.START)


def _project_of_job_shop(text: str) -> Project:
    facts = json.loads(text)
    minutes, machines = facts["duration_matrix"], facts["machines_matrix"]
    tasks = [
        Task(key=(job, step), ways=(Way(minutes=length, draws=(Draw(resource=machine),)),))
        for job, (lengths, route) in enumerate(zip(minutes, machines, strict=True))
        for step, (length, machine) in enumerate(zip(lengths, route, strict=True))
    ]
    lags = [
        Lag(before=(job, step), after=(job, after))
        for job, route in enumerate(machines)
        for step, after in pairwise(range(len(route)))
    ]
    return Project(
        tasks=tuple(tasks),
        resources=tuple(Resource(key=machine, capacity=1) for machine in range(len(machines[0]))),
        lags=tuple(lags),
        within=(0, sum(map(sum, minutes))),
    )


def _task(key: Key, minutes: int, amounts: list[int]) -> Task:
    draws = tuple(Draw(resource=number, amount=amount) for number, amount in enumerate(amounts) if amount)
    return Task(key=key, ways=(Way(minutes=minutes, draws=draws),))


def _project(tasks: list[Task], capacities: list[int], lags: list[Lag]) -> Project:
    """Within as many minutes as all tasks and all lags take together."""
    together = sum(task.ways[0].minutes for task in tasks) + sum(max(lag.least, 0) for lag in lags) + 1
    return Project(
        tasks=tuple(tasks),
        resources=tuple(Resource(key=at, capacity=amount) for at, amount in enumerate(capacities)),
        lags=tuple(lags),
        within=(0, together),
    )


READERS: dict[str, Callable[[str], Project]] = {
    "sm": _project_of_psplib,
    "sch": _project_of_progen_max,
    "json": _project_of_job_shop,
}
