"""Where a search begins: from a plan that is known."""

from __future__ import annotations

from collections.abc import Iterator

from ortools.sat.python import cp_model

from scheduling.engine.planner.model import Choice, Expr, Laid, Model
from scheduling.engine.planner.result import Placed, Placings
from scheduling.engine.spans import covers


def begin_from(model: Model, plan: Placings) -> None:
    """Every variable is told what the plan makes of it; one that stands for several is told once."""
    model.cp.clear_hints()  # type: ignore[no-untyped-call]
    told = {}
    for key, placed in plan.items():
        for variable, value in _told(model, model.laid[key], placed):
            if isinstance(variable, cp_model.IntVar):
                told[variable.index] = variable, value
    for follows in model.consequences:
        told |= {variable.index: (variable, value) for variable, value in (follows(plan) if plan else ())}
    for variable, value in told.values():
        model.cp.add_hint(variable, value)


def _told(model: Model, laid: Laid, placed: Placed) -> Iterator[tuple[Expr, int]]:
    yield laid.start, placed.start - model.origin
    yield laid.end, placed.end - model.origin
    yield laid.length, placed.end - placed.start
    for choice in laid.choices:
        taken = choice.way is placed.way
        yield choice.taken, int(taken)
        yield from _told_of_ends(choice, placed, taken=taken)


def _told_of_ends(choice: Choice, placed: Placed, *, taken: bool) -> Iterator[tuple[Expr, int]]:
    if choice.waits:
        start = placed.start, placed.start + 1
        yield choice.prompt, int(taken and covers(choice.reach.prompt, *start))
        for (span, _), waits in zip(choice.reach.waiting, choice.waits, strict=True):
            yield waits, int(taken and covers((span,), *start))
