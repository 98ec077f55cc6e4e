"""Loads with rounds in them of which it can be proven that they do not fit on one shelf.

Two pieces that do not overlap are far enough from one another in some direction. Of all directions only some
are asked, and a little less than enough is enough there; so what finds no place under that has none at all
(OR-Tools CP-SAT tries everything), and what finds one may still have none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import combinations
from math import atan2, cos, floor, hypot, pi, sin

from ortools.sat.python import cp_model

from scheduling.engine.packing.spaced import Load, Spaced, form

# Of few pieces more directions are asked.
FEW, DIRECTIONS, OF_MANY = 4, 32, 16
FINE = 1_000
# By CP-SAT's own measure of its work, about seconds: at most for one proof, and what it takes to ask at all.
WORK, ASKED = 0.01, 0.003
MOST, HALVINGS = 5, 2
BESIDE = 6

Direction = tuple[int, int]
BY_SIDES = (((1, 0), (0, 1), (-1, 0), (0, -1)), 1.0)


@cache
def directions(count: int) -> tuple[tuple[Direction, ...], float]:
    """So many all around, those of the sides among them; and how far at least a step of one leads along
    the nearest of them, whatever way it goes."""
    around = [2 * pi * n / count for n in range(count)]
    found = tuple((round(FINE * cos(angle)), round(FINE * sin(angle))) for angle in around)
    angles = [atan2(y, x) % (2 * pi) for x, y in found]
    widest = max(
        (after - before) % (2 * pi) for before, after in zip(angles[-1:] + angles, angles, strict=False)
    )
    return found, cos(widest / 2)


@dataclass
class Refuting:
    """What was proven for the pieces of one question, and how much work it was."""

    what: Spaced
    work: float = 0.0
    known: dict[Load, bool] = field(default_factory=dict)

    def rounds(self) -> Iterator[Load]:
        """Rounds that no shelf takes, the smallest that are proven: some, and two beside a larger one."""
        kinds = self.what.kinds
        rounds = sorted(
            (kind for kind in self.what.each if kinds[kind].round), key=lambda kind: kinds[kind].area
        )
        larger = [rounds[-1 - len(rounds) * part // (2 * BESIDE)] for part in range(1, BESIDE) if rounds]
        for beside, many in [*(([], many) for many in range(3, MOST + 1)), *(([one], 2) for one in larger)]:
            if found := self._smallest(rounds, beside, many):
                yield found

    def _smallest(self, rounds: Sequence[int], beside: Sequence[int], many: int) -> Load | None:
        """So many that are next to one another by size, and what is beside them."""
        low, high = 0, max(0, len(rounds) - many + 1)
        while low < high:
            at = (low + high) // 2
            if self.refuted([*beside, *rounds[at : at + many]]):
                high = at
            else:
                low = at + 1
        found = rounds[low : low + many]
        return tuple(sorted([*beside, *found])) if len(found) == many else None

    def core(self, load: Load) -> Load | None:
        """Of a load that cannot be laid, few pieces that cannot be laid either; None where nothing is proven.

        The largest are asked first. Each is then made as small as another piece that there is, as far as the
        proof still goes: so it says something about many more loads.
        """
        order = sorted(load, key=lambda kind: -self.what.kinds[kind].area)
        for many in range(3, min(len(order), MOST) + 1):
            if self.refuted(order[:many]):
                found = order[:many]
                for n in reversed(range(many)):
                    found = self._lowered(found, n)
                return tuple(sorted(found))
        return None

    def _lowered(self, found: list[int], n: int) -> list[int]:
        """With the smallest piece in the place of this one with which it is still proven."""
        smaller = sorted(
            self.what.within[found[n]] - {found[n]}, key=lambda kind: -self.what.kinds[kind].area
        )
        low, high = 0, len(smaller)
        for _ in range(HALVINGS):
            if low == high:
                break
            at = (low + high) // 2
            if self.refuted([*found[:n], smaller[at], *found[n + 1 :]]):
                low = at + 1
            else:
                high = at
        return [*found[:n], smaller[low - 1], *found[n + 1 :]] if low else found

    def refuted(self, load: Sequence[int]) -> bool:
        """Whether it is proven that these cannot be laid on one shelf. Nothing is asked twice."""
        asked = tuple(sorted(load))
        if asked not in self.known:
            self.known[asked] = self._proven(asked)
        return self.known[asked]

    def _proven(self, load: Load) -> bool:
        model = cp_model.CpModel()
        order = sorted(load, key=lambda kind: -self.what.kinds[kind].area)
        standing = [_Standing(model, self.what, kind, first=not n) for n, kind in enumerate(order)]
        for one, other in combinations(standing, 2):
            _keep_apart(model, one, other, DIRECTIONS if len(load) <= FEW else OF_MANY)
            if one.kind == other.kind and one is not standing[0]:
                model.add(one.at[0] <= other.at[0])
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        # What makes large models faster takes longer than these small ones do.
        solver.parameters.cp_model_presolve = False
        solver.parameters.linearization_level = 0
        solver.parameters.symmetry_level = 0
        solver.parameters.max_deterministic_time = WORK
        answer = solver.solve(model)
        self.work += ASKED + solver.response_proto.deterministic_time
        return answer == cp_model.INFEASIBLE


class _Standing:
    """A piece in the model: how it is turned, and where its middle is, in half millimetres."""

    def __init__(self, model: cp_model.CpModel, what: Spaced, number: int, *, first: bool) -> None:
        kind = what.kinds[number]
        one, other = kind.ways[0], kind.ways[-1]
        turned = model.new_bool_var("") if one != other else 0
        self.kind, self.across = number, kind.ways[0][0] if kind.round else 0
        self.sides = [
            a + (b - a) * turned for a, b in zip(form(kind, one)[:2], form(kind, other)[:2], strict=True)
        ]
        self.least = tuple(map(min, one, other))
        # The room is symmetrical, so the first stands in its front left quarter.
        self.most = tuple(
            whole if first else 2 * whole - least for whole, least in zip(what.room, self.least, strict=True)
        )
        self.at = [
            model.new_int_var(least, most, "") for least, most in zip(self.least, self.most, strict=True)
        ]
        if one != other:
            for at, side, whole in zip(self.at, self.sides, what.room, strict=True):
                model.add(at >= side)
                model.add(at + side <= 2 * whole)

    def farthest(self, other: _Standing, x: int, y: int) -> int:
        """How far this could be from another in a direction."""
        return sum(
            max(part * (self.least[n] - other.most[n]), part * (self.most[n] - other.least[n]))
            for n, part in enumerate((x, y))
        )


def _keep_apart(model: cp_model.CpModel, one: _Standing, other: _Standing, count: int) -> None:
    """In one direction at least they are as far apart as they must be, or nearly."""
    across = one.across + other.across
    ways, nearly = directions(count) if across else BY_SIDES
    chosen = []
    for x, y in ways:
        round_ = floor(hypot(x, y) * across * nearly)
        if one.farthest(other, x, y) >= round_:
            chosen.append(model.new_bool_var(""))
            model.add(
                x * (one.at[0] - other.at[0]) + y * (one.at[1] - other.at[1])
                >= abs(x) * (one.sides[0] + other.sides[0])
                + abs(y) * (one.sides[1] + other.sides[1])
                + round_
            ).only_enforce_if(chosen[-1])
    model.add_bool_or(chosen)
