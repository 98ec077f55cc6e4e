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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import combinations, combinations_with_replacement, product
from math import ceil, floor

from ortools.sat.python import cp_model

from scheduling.engine.packing.bounds import WHOLE, Row, rows
from scheduling.engine.packing.covering import NEARLY, Covering, covering_of
from scheduling.engine.packing.spaced import Kind, Load, Spaced, exclude_so

FINE = 10_000  # worth is counted in such parts of a shelf
# By CP-SAT's own measure of its work, about seconds: mostly a quick look for a load, at times a thorough one.
QUICK, THOROUGH, OFTEN = 0.03, 0.4, 6


class Carrying:
    """What one shelf could carry, for all that is known: it may be more than can be laid, never less."""

    def __init__(self, what: Spaced) -> None:
        self.what, self.model, self.work = what, cp_model.CpModel(), 0.0
        self.fewer: dict[tuple[frozenset[int], int], cp_model.IntVar] = {}
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

    def forbid(self, core: Load) -> None:
        """No shelf carries all of this, nor as many pieces within which all of it would stand.

        By P. Hall's theorem (1935, from memory), a load has such a piece for each of the core's, another for
        each, unless fewer than so many are large enough for any of so many of the core's.
        """
        self.model.add_bool_or([self._fewer(*large) for large in self.larger(core)])

    def larger(self, core: Load) -> list[tuple[frozenset[int], int]]:
        """The kinds within which some of a core would stand, and how many pieces these are."""
        above = {
            one: frozenset(kind for kind, within in enumerate(self.what.within) if one in within)
            for one in set(core)
        }
        found: dict[frozenset[int], int] = {}
        for many in range(1, len(core) + 1):
            for some in combinations(core, many):
                found[frozenset().union(*(above[one] for one in some))] = many
        return list(found.items())

    def _fewer(self, large: frozenset[int], many: int) -> cp_model.IntVar:
        if (large, many) not in self.fewer:
            self.fewer[large, many] = fewer = self.model.new_bool_var("")
            there = sum(taken for kind in large for taken in self.taken[kind])
            self.model.add(there < many).only_enforce_if(fewer)
        return self.fewer[large, many]

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
        larger = self.carrying.larger(core)
        for load in list(self.doubtful):
            if all(sum(kind in large for kind in load) >= many for large, many in larger):
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
