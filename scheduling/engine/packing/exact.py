"""Whether so few shelves do at all: left to OR-Tools CP-SAT, for as long as somebody would wait.

Work is counted as CP-SAT counts it, in about seconds, so that every computer stops at the same point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto
from itertools import product

from ortools.sat.python import cp_model

from scheduling.engine.packing.bounds import WHOLE, weights
from scheduling.engine.packing.spaced import Box, Layout, Sides, Spaced


class Unlaid(Enum):
    """Why there is no layout."""

    IMPOSSIBLE = auto()
    TIME_RAN_OUT = auto()


def lay_on(what: Spaced, shelves: int, *, work: float) -> list[Layout] | Unlaid:
    """All pieces on so many shelves, each round one in a square of its own."""
    model = cp_model.CpModel()
    standing = _standing(model, what, shelves)
    for shelf in range(shelves):
        _no_overlap(model, standing, shelf)
    if shelves > 1:
        _limits(model, what, standing)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = work
    answer = solver.solve(model)
    if answer == cp_model.INFEASIBLE:
        return Unlaid.IMPOSSIBLE
    if answer not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        return Unlaid.TIME_RAN_OUT
    return [_layout(solver, standing, shelf) for shelf in range(shelves)]


@dataclass(frozen=True, kw_only=True)
class _Standing:
    """One piece in the model: where, which way round, and on which shelf."""

    kind: int
    ways: tuple[Sides, ...]
    turned: cp_model.IntVar | int
    start: tuple[cp_model.IntVar, cp_model.IntVar]
    end: tuple[cp_model.IntVar, cp_model.IntVar]
    on: list[cp_model.IntVar]

    @property
    def sides(self) -> tuple[cp_model.LinearExpr | int, cp_model.LinearExpr | int]:
        """Its extent, by the way it stands."""
        (length, width), (length_2, width_2) = self.ways[0], self.ways[-1]
        return length + (length_2 - length) * self.turned, width + (width_2 - width) * self.turned


def _standing(model: cp_model.CpModel, what: Spaced, shelves: int) -> list[_Standing]:
    """Every piece on one shelf. Shelves are alike, so the n-th largest stands on one of the first n."""
    order = sorted(what.each, key=lambda kind: -what.kinds[kind].area)
    return [_one(model, kind, what, min(shelves, number + 1)) for number, kind in enumerate(order)]


def _one(model: cp_model.CpModel, kind: int, what: Spaced, shelves: int) -> _Standing:
    ways = what.kinds[kind].ways
    length, width = what.room
    found = _Standing(
        kind=kind,
        ways=ways,
        turned=model.new_bool_var("") if len(ways) > 1 else 0,
        start=(model.new_int_var(0, length, ""), model.new_int_var(0, width, "")),
        end=(model.new_int_var(0, length, ""), model.new_int_var(0, width, "")),
        on=[model.new_bool_var("") for _ in range(shelves)],
    )
    model.add_exactly_one(found.on)
    for start, side, end in zip(found.start, found.sides, found.end, strict=True):
        model.add(start + side == end)
    return found


def _no_overlap(model: cp_model.CpModel, standing: Sequence[_Standing], shelf: int) -> None:
    along, across = (
        [
            model.new_optional_interval_var(each.start[n], each.sides[n], each.end[n], each.on[shelf], "")
            for each in standing
            if shelf < len(each.on)
        ]
        for n in (0, 1)
    )
    model.add_no_overlap_2d(along, across)


def _limits(model: cp_model.CpModel, what: Spaced, standing: Sequence[_Standing]) -> None:
    """What no shelf can exceed: it spares the solver much trying."""
    for weighs, shelf in product(weights(what).tolist(), range(len(standing[-1].on))):
        model.add(
            sum(weighs[each.kind] * each.on[shelf] for each in standing if shelf < len(each.on)) <= WHOLE
        )


def _layout(solver: cp_model.CpSolver, standing: Sequence[_Standing], shelf: int) -> Layout:
    return tuple(
        (each.kind, _box(solver, each))
        for each in standing
        if shelf < len(each.on) and solver.value(each.on[shelf])
    )


def _box(solver: cp_model.CpSolver, each: _Standing) -> Box:
    (left, front), (right, back) = (
        [solver.value(one) for one in corner] for corner in (each.start, each.end)
    )
    return left, front, right, back
