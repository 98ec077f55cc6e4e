"""The strongest bound: how few shelves would do if loads of the large pieces could be taken in part.

Every load of large pieces that may stand on one shelf is written down: any two and any three of its pieces
can stand together (scheduling.engine.packing.threes), and it weighs no more than a shelf carries. What weight
it leaves is all that its shelf has for the smaller pieces. A linear program says how few shelves do then,
loads taken in part (P. C. Gilmore and R. E. Gomory, A linear programming approach to the cutting-stock
problem, Operations Research 9 (1961) 849-859; from memory). It is asked with few loads first; those that are
worth more than a shelf join until there are none. Loads on which its answer rests are then asked by fours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
from ortools.linear_solver import pywraplp

from scheduling.engine.packing.clear import Fractions, Whole
from scheduling.engine.packing.covering import NEARLY
from scheduling.engine.packing.loads import Loads
from scheduling.engine.packing.threes import Yes

# So many loads join at once, so many of them with the same piece.
JOINING, ALIKE = 30, 2
# Fours are asked of the loads that the answer takes and of so many that are worth most, if nearly a shelf.
NEAREST, NEAR = 60, 0.03
# So many of a load's largest pieces are asked, and so many fours at once.
LARGEST, FOURS_AT_ONCE = 7, 600
# About the seconds that it takes to ask a four in one way, and to solve anew, for each load and so many more.
ASKED, SOLVED, SOME_LOADS = 0.00005, 0.0000005, 20_000


@dataclass
class Sharing:
    """The linear program over these loads, and its last answer: so many shelves at least.

    `work` is about the seconds that it took so far.
    """

    loads: Loads
    least: float = 0.0
    work: float = 0.0
    program: _Program = field(init=False)
    open: Yes = field(init=False)
    value: Fractions = field(init=False)

    def __post_init__(self) -> None:
        self.open = np.ones(len(self.loads.rows), dtype=bool)
        self.program = _Program(self.loads, (*range(len(self.loads.pieces)), len(self.loads.rows) - 1))

    def solve(self) -> float:
        """How few shelves do. What the pieces are worth proves it, by the most that any load is worth."""
        self.work += SOLVED * (SOME_LOADS + len(self.loads.rows))
        while True:
            worth, room = self.program.worths()
            self.value = np.append(worth, 0.0)[self.loads.rows].sum(axis=1) + self.loads.leaves * room
            self.value[~self.open] = 0.0
            more = [row for row in self._most() if row not in self.program.variables]
            if not more:
                total = worth @ np.array(self.loads.pieces) + self.loads.smaller * room
                self.least = max(self.least, float(total / max(1.0, self.value.max())))
                return self.least
            for row in more:
                self.program.join(row)

    def taken(self) -> list[int]:
        """The loads that the last answer takes at least in part, the most of one first; none empty."""
        parts = self.program.parts()
        parts.pop(len(self.loads.rows) - 1, None)
        return sorted((row for row in parts if parts[row] > NEARLY), key=lambda row: -parts[row])

    def leave_out(self, rows: Iterable[int]) -> None:
        """None of these loads, nor any as large piece by piece. `least` proves nothing from then on."""
        for row in rows:
            self.open &= ~self.loads.as_large(row)
        self._begin_anew()

    def sharpen(self, *, work: float, until: int) -> float:
        """Leave out loads with fours that cannot stand, where the answer rests on them or might next.

        For so much work, in about seconds, and not once the answer is as high as `until`.
        """
        most = self.work + work
        while self.work < most and self.least <= until - 1 + NEARLY:
            near = np.flatnonzero(self.value > 1 - NEAR)
            near = near[np.argsort(-self.value[near], kind="stable")[:NEAREST]]
            resting = np.array(self.taken(), dtype=np.int64)
            fours = _fours(self.loads.rows[np.append(near, resting)], len(self.loads.numbers))
            asked = self.loads.fitting.ask_fours(fours, most=FOURS_AT_ONCE)
            if not asked:
                break
            self.work += ASKED * asked
            joined = np.array(list(self.program.variables))
            self.open[joined[self._refused(joined)]] = False
            self._begin_anew()
            self.solve()
        return self.least

    def _refused(self, rows: Whole) -> Yes:
        """Which loads have a four among their largest pieces that is known not to stand."""
        found = np.zeros(len(rows), dtype=bool)
        for some in _columns(self.loads.rows):
            found |= self.loads.fitting.refused[tuple(self.loads.rows[rows][:, some].T)]
        return found

    def _begin_anew(self) -> None:
        self.program = _Program(self.loads, [row for row in self.program.variables if self.open[row]])

    def _most(self) -> list[int]:
        """Some of the loads that are worth more than a shelf, unlike one another.

        Those of them with a four that cannot stand are left out for good.
        """
        rows = self._worth_most()
        while (refused := self._refused(rows)).any():
            self.open[rows[refused]], self.value[rows[refused]] = False, 0.0
            rows = self._worth_most()
        often = np.zeros(len(self.loads.pieces) + 1, dtype=int)
        chosen = []
        for row in rows.tolist():
            kinds = self.loads.load_of_large(row)
            if all(often[kind] < ALIKE for kind in kinds):
                often[kinds] += 1
                chosen.append(row)
        return chosen

    def _worth_most(self) -> Whole:
        rows = np.flatnonzero(self.value > 1 + NEARLY)
        return rows[np.argsort(-self.value[rows], kind="stable")[:JOINING]]


class _Program:
    """Every large piece in one of the loads, and the smaller ones in what these leave of their shelves."""

    def __init__(self, loads: Loads, rows: Iterable[int]) -> None:
        self.loads, self.solved = loads, False
        self._begin(rows)

    def _begin(self, rows: Iterable[int]) -> None:
        self.variables: dict[int, pywraplp.Variable] = {}
        self.solver = pywraplp.Solver.CreateSolver("GLOP")
        self.of_kind = [self.solver.Constraint(count, self.solver.infinity()) for count in self.loads.pieces]
        self.of_room = self.solver.Constraint(self.loads.smaller, self.solver.infinity())
        self.solver.Objective().SetMinimization()
        for row in sorted(rows):
            self.join(row)

    def join(self, row: int) -> None:
        """One more load to take of."""
        self.variables[row] = one = self.solver.NumVar(0, self.solver.infinity(), "")
        self.solver.Objective().SetCoefficient(one, 1)
        for kind, often in Counter(self.loads.load_of_large(row)).items():
            self.of_kind[kind].SetCoefficient(one, often)
        self.of_room.SetCoefficient(one, float(self.loads.leaves[row]))

    def worths(self) -> tuple[Fractions, float]:
        """In shelves, what one of each large kind is worth, and the room of a shelf to smaller pieces."""
        if not self._solve():
            # It goes on from its last answer, and may lose its way there; then it begins anew.
            self._begin(list(self.variables))
            if not self._solve():
                return np.zeros(len(self.of_kind)), 0.0
        kinds = [max(0.0, each.dual_value()) for each in self.of_kind]
        return np.array(kinds), max(0.0, self.of_room.dual_value())

    def _solve(self) -> bool:
        self.solved = self.solver.Solve() == self.solver.OPTIMAL
        return self.solved

    def parts(self) -> dict[int, float]:
        """How much of each load the last answer takes: nothing, if there was none."""
        return {row: one.solution_value() for row, one in self.variables.items()} if self.solved else {}


def _fours(rows: Whole, number: int) -> Whole:
    """The fours among the largest pieces of these loads."""
    found = np.concatenate([np.zeros((0, 4), dtype=np.int64), *(rows[:, some] for some in _columns(rows))])
    return np.unique(found[found[:, -1] < number], axis=0)


def _columns(rows: Whole) -> list[tuple[int, ...]]:
    return list(combinations(range(min(LARGEST, rows.shape[1])), 4))
