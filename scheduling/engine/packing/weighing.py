"""The strongest weights: what each kind is worth in shelves, against the most that any one shelf could carry.

The linear program over all loads found so far says what each kind is worth. CP-SAT then says how much of
that a shelf could carry at most, under everything that is known to limit a shelf: area, dual feasible
functions, pairs that exclude each other. All pieces together, divided by that, is a bound (A. A. Farley,
A note on bounding a class of linear programming problems, Operations Research 38 (1990) 922-923; from
memory). The load that carries the most joins the others (column generation, P. C. Gilmore and R. E.
Gomory, 1961), and it is asked again. Loads on which the bound rests at last, and of which a search proves
that they cannot be laid, are forbidden.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations_with_replacement, product
from math import ceil, floor

from ortools.sat.python import cp_model

from scheduling.engine.packing.bounds import WHOLE, Row, exclude_so, rows
from scheduling.engine.packing.covering import NEARLY, Covering, covering_of
from scheduling.engine.packing.spaced import Kind, Load, Spaced

FINE = 10_000  # worth is counted in such parts of a shelf
# By CP-SAT's own measure of its work, about seconds: mostly a quick look for a load, at times a thorough one.
QUICK, THOROUGH, OFTEN = 0.03, 0.4, 6


class Carrying:
    """What one shelf could carry, for all that is known: it may be more than can be laid, never less."""

    def __init__(self, what: Spaced) -> None:
        self.what, self.model, self.work = what, cp_model.CpModel(), 0.0
        self.taken = [[self._count(len(kind.pieces)) for _ in kind.ways] for kind in what.kinds]
        self.some = [
            [self._some(taken, kind) for taken in ways]
            for kind, ways in zip(what.kinds, self.taken, strict=True)
        ]
        for kind, ways in zip(what.kinds, self.taken, strict=True):
            self.model.add(sum(ways) <= len(kind.pieces))
        for row in rows(what):
            self._limit(row)
        self._exclude()

    def _count(self, most: int) -> cp_model.IntVar:
        return self.model.new_bool_var("") if most == 1 else self.model.new_int_var(0, most, "")

    def _some(self, taken: cp_model.IntVar, kind: Kind) -> cp_model.IntVar:
        if len(kind.pieces) == 1:
            return taken
        some = self.model.new_bool_var("")
        self.model.add(taken <= len(kind.pieces) * some)
        return some

    def _limit(self, row: Row) -> None:
        self.model.add(
            sum(
                weight * taken
                for weights, ways in zip(row.weights, self.taken, strict=True)
                for weight, taken in zip(weights, ways, strict=True)
            )
            <= WHOLE
        )

    def _exclude(self) -> None:
        kinds, room = self.what.kinds, self.what.room
        standing = [(kind, way) for kind, each in enumerate(kinds) for way in range(len(each.ways))]
        for (i, a), (j, b) in combinations_with_replacement(standing, 2):
            if exclude_so(kinds[i], kinds[i].ways[a], kinds[j], kinds[j].ways[b], room):
                if (i, a) == (j, b):
                    self.model.add(self.taken[i][a] <= 1)
                else:
                    self.model.add_at_most_one(self.some[i][a], self.some[j][b])

    def forbid(self, load: Load) -> None:
        """No shelf carries all of this: it is known that it cannot be laid on one."""
        there = [self._so_many(kind, often) for kind, often in Counter(load).items()]
        self.model.add(sum(there) <= len(there) - 1)

    def _so_many(self, kind: int, often: int) -> cp_model.LinearExprT:
        taken, most = sum(self.taken[kind]), len(self.what.kinds[kind].pieces)
        if most == 1:
            return taken
        reached = self.model.new_bool_var("")
        self.model.add(taken <= often - 1 + (most - often + 1) * reached)
        return reached

    def heaviest(self, worth: Sequence[int], *, work: float) -> tuple[int, Load]:
        """The most worth that a shelf could carry, or a little more, and a load that is about worth it."""
        self.model.maximize(
            sum(value * taken for value, ways in zip(worth, self.taken, strict=True) for taken in ways)
        )
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.cp_model_presolve = False
        solver.parameters.max_deterministic_time = work
        answer = solver.solve(self.model)
        self.work += solver.response_proto.deterministic_time
        if answer not in {cp_model.OPTIMAL, cp_model.FEASIBLE}:
            return floor(solver.best_objective_bound + NEARLY), ()
        load = tuple(
            kind for kind, ways in enumerate(self.taken) for taken in ways for _ in range(solver.value(taken))
        )
        return floor(solver.best_objective_bound + NEARLY), load


@dataclass
class Weighing:
    """Rounds of weighing: which worth of the kinds has led to the best bound so far."""

    carrying: Carrying
    covering: Covering
    worth: list[float]
    bound: int = 0
    rounds: int = 0
    doubtful: set[Load] = field(default_factory=set)

    def go_on(self) -> Load | None:
        """One round. Returns a load that the covering lacks; None where no more rounds would help."""
        least, newest = self.covering.solve()
        if ceil(least - NEARLY) <= self.bound:
            return None
        self.rounds += 1
        works = (QUICK, THOROUGH) if self.rounds % OFTEN else (THOROUGH,)
        # Half way from the best so far, as the newest worth swings to and fro; then all the way.
        for work, part in product(works, (0.5, 1.0)):
            worth = [old + part * (new - old) for old, new in zip(self.worth, newest, strict=True)]
            load = self._weigh(worth, work)
            if load and load not in self.covering.loads:
                return load
        return None

    def forbid(self, core: Load) -> None:
        """This cannot be laid on one shelf, nor can any load that it is part of."""
        self.carrying.forbid(core)
        needed = Counter(core)
        for load in [load for load in self.doubtful if needed <= Counter(load)]:
            self.doubtful.discard(load)
            self.covering.drop(load)

    def _weigh(self, worth: Sequence[float], work: float) -> Load:
        counted = [floor(FINE * value) for value in worth]
        most, load = self.carrying.heaviest(counted, work=work)
        total = self._total(counted)
        if total > most * self._total(self.worth):
            self.worth = [value / most for value in counted]
            self.bound = max(self.bound, -(-int(total) // most))
        return load

    def _total(self, worth: Sequence[float]) -> float:
        return sum(
            value * len(kind.pieces) for value, kind in zip(worth, self.carrying.what.kinds, strict=True)
        )


def weighing(what: Spaced, loads: Iterable[Load]) -> Weighing:
    """Begin with the loads that are known and with the best of the simple weights."""
    heaviest = max(rows(what), key=lambda row: row.total(what.kinds))
    return Weighing(
        carrying=Carrying(what),
        covering=covering_of(what, loads),
        worth=[min(ways) / WHOLE for ways in heaviest.weights],
    )
