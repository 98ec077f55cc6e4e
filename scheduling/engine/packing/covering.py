"""The fewest of many shelf loads that hold all pieces: set covering, by a linear program and dives."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from math import ceil, floor

from ortools.linear_solver import pywraplp
from ortools.sat.python import cp_model

from scheduling.engine.packing.spaced import Load, Spaced
from scheduling.engine.packing.tried import Stock

NEARLY = 1e-6
# So many dives among so many loads, each but the first with their cost shaken.
DIVES, DIVED, SHAKEN = 8, 600, 0.02
# By CP-SAT's own measure of its work, about seconds.
BRANCHED = 0.1


class Covering:
    """The linear program: so much of each load that every kind is there as often as it has pieces."""

    def __init__(self, what: Spaced) -> None:
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.rows = [self.solver.Constraint(len(kind.pieces), self.solver.infinity()) for kind in what.kinds]
        self.loads: dict[Load, pywraplp.Variable] = {}
        self.solver.Objective().SetMinimization()

    def add(self, load: Load) -> None:
        """One more load to take of."""
        if load not in self.loads:
            self.loads[load] = variable = self.solver.NumVar(0, self.solver.infinity(), "")
            self.solver.Objective().SetCoefficient(variable, 1)
            for kind, often in Counter(load).items():
                self.rows[kind].SetCoefficient(variable, often)

    def solve(self) -> tuple[float, list[float]]:
        """How few shelves do where loads may be taken in part, and what each kind is worth in shelves."""
        self.solver.Solve()
        return self.solver.Objective().Value(), [max(0.0, row.dual_value()) for row in self.rows]

    def dive(self, fewer_than: int) -> list[Load] | None:
        """Whole loads, fewer than so many: what is most nearly whole is taken, and the rest asked again."""
        found = None
        while self.solver.Solve() == self.solver.OPTIMAL:
            if ceil(self.solver.Objective().Value() / (1 + SHAKEN) - NEARLY) >= fewer_than:
                break
            parts = {
                load: part for load, one in self.loads.items() if (part := one.solution_value()) > NEARLY
            }
            if all(abs(part - round(part)) < NEARLY for part in parts.values()):
                found = [load for load, part in parts.items() for _ in range(round(part))]
                break
            self._take(parts)
        for variable in self.loads.values():
            variable.SetLb(0)
        return found

    def _take(self, parts: dict[Load, float]) -> None:
        rests = {load: part - floor(part + NEARLY) for load, part in parts.items()}
        most = max(rests, key=lambda load: (rests[load], len(load)))
        for load, part in parts.items():
            self.loads[load].SetLb(ceil(part) if load == most else floor(part + NEARLY))

    def shake(self, at_random: random.Random) -> None:
        """Loads cost a little more than a shelf, one more than another, which makes another dive of it."""
        for variable in self.loads.values():
            self.solver.Objective().SetCoefficient(variable, 1 + SHAKEN * at_random.random())

    def nearest(self, count: int) -> list[Load]:
        """The loads that lose least against what their kinds are worth."""
        _, worth = self.solve()
        return sorted(self.loads, key=lambda load: 1 - sum(worth[kind] for kind in load))[:count]


def covering_of(what: Spaced, loads: Iterable[Load]) -> Covering:
    """The linear program over these loads."""
    covering = Covering(what)
    for load in loads:
        covering.add(load)
    return covering


def cover(stock: Stock, covering: Covering, *, thorough: bool) -> None:
    """Look for fewer loads than the fewest so far, all of which can be laid: by dives; `thorough`: beyond."""
    at_random = random.Random(2)  # noqa: S311 - the same each time, and nothing secret
    least = ceil(covering.solve()[0] - NEARLY)
    if stock.shelves <= least:
        return
    nearest = covering.nearest(DIVED)
    diving = covering_of(stock.what, nearest)
    for _ in range(DIVES):
        if loads := diving.dive(stock.shelves):
            stock.choose(loads)
        if stock.shelves <= least:
            return
        diving.shake(at_random)
    if thorough:
        _branch(stock, nearest)


def _branch(stock: Stock, loads: Sequence[Load]) -> None:
    """What the dives missed, by branch and bound, as far as so much work goes."""
    model = cp_model.CpModel()
    most = [max(1, len(kind.pieces)) for kind in stock.what.kinds]
    taken = {load: model.new_int_var(0, max(most[kind] for kind in load), "") for load in loads}
    holding: dict[int, list[tuple[Load, int]]] = defaultdict(list)
    for load in loads:
        for kind, often in Counter(load).items():
            holding[kind].append((load, often))
    for kind, each in enumerate(stock.what.kinds):
        model.add(sum(often * taken[load] for load, often in holding[kind]) >= len(each.pieces))
    model.add(sum(taken.values()) <= stock.shelves - 1)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = BRANCHED
    if solver.solve(model) in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
        stock.choose([load for load, one in taken.items() for _ in range(solver.value(one))])
