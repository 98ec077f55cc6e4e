"""The variables of a project: when each task starts and ends, and in which of its ways."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from scheduling.engine.planner.project import Key, Project, Task, Way
from scheduling.engine.planner.reach import Possible, Reach
from scheduling.engine.planner.result import Placings
from scheduling.engine.spans import Span, union

Expr = cp_model.LinearExpr | int
# What a plan makes of variables that belong to no task.
Consequences = Iterable[tuple[cp_model.IntVar, int]]


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A way that a task may take: whether it does, and whether its end waits for one of the turns."""

    way: Way
    reach: Reach
    taken: cp_model.BoolVarT
    prompt: cp_model.BoolVarT
    waits: tuple[cp_model.BoolVarT, ...]


@dataclass(frozen=True, kw_only=True)
class Laid:
    """What is not known of a task. `length` is a number where no way makes it longer or shorter."""

    task: Task
    start: cp_model.IntVar
    end: Expr
    length: Expr
    choices: tuple[Choice, ...]


@dataclass(kw_only=True)
class Model:
    """A project as CP-SAT reads it. Minutes count from its beginning, so that numbers stay small."""

    project: Project
    ways: Possible
    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    laid: dict[Key, Laid] = field(default_factory=dict)
    over: cp_model.IntVar = field(init=False)
    consequences: list[Callable[[Placings], Consequences]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.over = self.cp.new_int_var(0, self.horizon, "over")
        self.consequences.append(
            lambda plan: [(self.over, max(placed.end for placed in plan.values()) - self.origin)]
        )

    @property
    def origin(self) -> int:
        return self.project.within[0]

    @property
    def horizon(self) -> int:
        return self.project.within[1] - self.project.within[0]

    def choices(self) -> Iterator[tuple[Laid, Choice]]:
        """Every way of every task."""
        for laid in self.laid.values():
            for choice in laid.choices:
                yield laid, choice

    def domain(self, spans: Iterable[Span]) -> cp_model.Domain:
        """Half-open spans of minutes as the closed intervals of CP-SAT."""
        return cp_model.Domain.from_intervals(
            [[a - self.origin, b - 1 - self.origin] for a, b in union(spans)]
        )


def lay_out(project: Project, ways: Possible) -> Model:
    """The variables of every task. One that nothing can start is left without a choice."""
    model = Model(project=project, ways=ways)
    for task in project.tasks:
        model.laid[task.key] = _laid(model, task, ways[task.key])
    return model


def _laid(model: Model, task: Task, ways: Sequence[tuple[Way, Reach]]) -> Laid:
    name = str(len(model.laid))
    starts = [span for _, each in ways for span in each.starts] or [model.project.within]
    start = model.cp.new_int_var_from_domain(model.domain(starts), f"start {name}")
    lengths = {each.length for _, each in ways}
    waiting = any(each.waiting for _, each in ways)
    choices = tuple(_choice(model, way, each, alone=len(ways) == 1) for way, each in ways)
    if len(lengths) == 1 and not waiting:
        (length,) = lengths
        return Laid(task=task, start=start, end=start + length, length=length, choices=choices)
    end = model.cp.new_int_var(0, model.horizon, f"end {name}")
    length_var = model.cp.new_int_var(min(lengths, default=0), model.horizon, f"length {name}")
    return Laid(task=task, start=start, end=end, length=length_var, choices=choices)


def _choice(model: Model, way: Way, each: Reach, *, alone: bool) -> Choice:
    """Of what there is only one of, it is certain that it is taken."""
    taken = model.cp.new_constant(1) if alone else model.cp.new_bool_var("way")
    if not each.waiting:
        return Choice(way=way, reach=each, taken=taken, prompt=taken, waits=())
    waits = tuple(model.cp.new_bool_var("waits") for _ in each.waiting)
    prompt = model.cp.new_bool_var("prompt")
    return Choice(way=way, reach=each, taken=taken, prompt=prompt, waits=waits)
