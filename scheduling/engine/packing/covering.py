"""The fewest of many shelf loads that hold all pieces (set covering, as a mixed-integer program)."""

from __future__ import annotations

from collections import Counter

from ortools.linear_solver import pywraplp

from scheduling.engine.packing.spaced import Spaced
from scheduling.engine.packing.tried import Load, Stock

# Only there so that nobody waits for ever; it ends far earlier on its own.
LONGEST_MS = 1_500
NEARLY = 1e-6


class Covering:
    """The linear program: so much of each load that every kind is there as often as there are pieces of it."""

    def __init__(self, what: Spaced) -> None:
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.rows = [self.solver.Constraint(len(kind.pieces), self.solver.infinity()) for kind in what.kinds]
        self.loads: set[Load] = set()
        self.solver.Objective().SetMinimization()

    def add(self, load: Load) -> None:
        """One more load to take of."""
        if load not in self.loads:
            self.loads.add(load)
            _column(self.solver, self.rows, load, self.solver.NumVar(0, self.solver.infinity(), ""))

    def solve(self) -> tuple[float, list[float]]:
        """How few shelves do where loads may be taken in part, and what each kind is worth in shelves."""
        self.solver.Solve()
        return self.solver.Objective().Value(), [max(0.0, row.dual_value()) for row in self.rows]


def cover(stock: Stock, least: float, worth: list[float]) -> None:
    """Look for fewer loads than the fewest so far; `least` and `worth` are what the linear program says.

    A load that is worth so much less than a shelf that the total could not be fewer is left out.
    """
    solver = pywraplp.Solver.CreateSolver("CBC")
    rows = [solver.Constraint(len(kind.pieces), solver.infinity()) for kind in stock.what.kinds]
    spare = stock.shelves - 1 - least + NEARLY
    taken = {
        load: solver.IntVar(0, len(stock.what.each), "")
        for load in stock.loads
        if 1 - sum(worth[kind] for kind in load) <= spare
    }
    for load, variable in taken.items():
        _column(solver, rows, load, variable)
    solver.Objective().SetMinimization()
    solver.SetTimeLimit(LONGEST_MS)
    if solver.Solve() in {solver.OPTIMAL, solver.FEASIBLE}:
        stock.choose([load for load, one in taken.items() for _ in range(round(one.solution_value()))])


def _column(
    solver: pywraplp.Solver, rows: list[pywraplp.Constraint], load: Load, variable: pywraplp.Variable
) -> None:
    solver.Objective().SetCoefficient(variable, 1)
    for kind, often in Counter(load).items():
        rows[kind].SetCoefficient(variable, often)
