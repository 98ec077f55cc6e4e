"""How many shelves there must be at least, whoever lays them.

Every bound is of one form: each piece has a weight, no shelf can carry more weight than one, so there
must be as many shelves as all pieces weigh. By area, a piece weighs its share of the room. By pairs,
pieces of which no two can stand on one shelf weigh one each. A function f of a side's share of the room
is *dual feasible* where shares that add up to at most one keep doing so under it; with one for the length
and one for the width, f times g is such a weight. A piece that may be turned has the lesser of both; a
round one that of a square within it.

Sources, both from memory: S. P. Fekete and J. Schepers, A general framework for bounds for
higher-dimensional orthogonal packing problems, Mathematical Methods of Operations Research 60 (2004)
311-329; S. Martello and D. Vigo, Exact solution of the two-dimensional finite bin packing problem,
Management Science 44 (1998) 388-399.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

from scheduling.engine.packing.spaced import Kind, Sides, Spaced

Function = Callable[[int], int]
# Weights are whole parts of a shelf, rounded down, which never makes a bound wrong.
WHOLE = 1_000_000
STEPS = (1, 2, 3, 4)
PARTS = 8


@dataclass(frozen=True, kw_only=True)
class Bound:
    """So many shelves at least, known by this argument."""

    shelves: int
    by: str


@dataclass(frozen=True)
class Row:
    """What each kind weighs, standing in each of its ways, where no shelf carries more than WHOLE."""

    weights: tuple[tuple[int, ...], ...]

    def shelves(self, kinds: Sequence[Kind]) -> int:
        """The bound that follows where every piece stands in its lightest way."""
        return -(-self.total(kinds) // WHOLE)

    def total(self, kinds: Sequence[Kind]) -> int:
        """What all pieces weigh, in parts of a shelf."""
        return sum(min(ways) * len(kind.pieces) for ways, kind in zip(self.weights, kinds, strict=True))


def by_area(what: Spaced) -> Bound:
    """What the area alone asks for, spacing counted."""
    taken = sum(kind.area * len(kind.pieces) for kind in what.kinds)
    return Bound(shelves=-(-taken // (what.room[0] * what.room[1])), by="area")


def by_pairs(what: Spaced) -> Bound:
    """As many as there are pieces of which no two stand on one shelf: taken greedily, the largest first."""
    alone: list[Kind] = []
    for kind in sorted(what.kinds, key=lambda kind: min(kind.ways[0]), reverse=True):
        for _ in kind.pieces:
            if all(exclude(kind, other, what.room) for other in alone):
                alone.append(kind)
    return Bound(shelves=len(alone), by="pairs")


def by_functions(what: Spaced) -> Bound:
    """The best of many pairs of dual feasible functions."""
    return Bound(shelves=max(row.shelves(what.kinds) for row in rows(what)), by="dual feasible")


def best(what: Spaced) -> Bound:
    """The first of the simple bounds that is the largest."""
    return max(by_area(what), by_pairs(what), by_functions(what), key=lambda bound: bound.shelves)


def exclude(one: Kind, other: Kind, room: Sides) -> bool:
    """Whether two pieces cannot stand on one shelf, however they are turned."""
    return all(exclude_so(one, a, other, b, room) for a, b in product(one.ways, other.ways))


def exclude_so(one: Kind, a: Sides, other: Kind, b: Sides, room: Sides) -> bool:
    """Whether two pieces that stand in these ways cannot be on one shelf: neither goes beside the other.

    They are farthest apart in two corners of the room; rounds may nest there.
    """
    if one.round and other.round:
        across = a[0] + b[0]
        return _nearer(2 * room[0] - across, 2 * room[1] - across, across)
    if other.round:
        return exclude_so(other, b, one, a, room)
    if one.round:
        return _nearer(2 * (room[0] - b[0]) - a[0], 2 * (room[1] - b[1]) - a[0], a[0])
    return a[0] + b[0] > room[0] and a[1] + b[1] > room[1]


def _nearer(along: int, across: int, than: int) -> bool:
    return max(0, along) ** 2 + max(0, across) ** 2 < than**2


def rows(what: Spaced) -> list[Row]:
    """Every weight that no shelf can exceed: by area, and by each function with each other."""
    length, width = what.room
    found = {
        Row(tuple((kind.area * WHOLE // (length * width),) * len(kind.ways) for kind in what.kinds)): None
    }
    sides = {side for kind in what.kinds for core in kind.cores for side in core}
    for f, g in product(_functions(length, sides), _functions(width, sides)):
        found[Row(tuple(_weights(kind, f, g) for kind in what.kinds))] = None
    return list(found)


def _weights(kind: Kind, f: Function, g: Function) -> tuple[int, ...]:
    return tuple(f(along) * g(across) // WHOLE for along, across in kind.cores)


def _functions(whole: int, sides: set[int]) -> Iterator[Function]:
    """For sides up to `whole`: the share itself; rounded by halves, thirds and so on; without the small."""
    yield lambda side: side * WHOLE // whole
    yield from (_steps(whole, k) for k in STEPS)
    small = sorted(side for side in sides if 2 * side <= whole)
    for least in dict.fromkeys(small[len(small) * part // PARTS] for part in range(PARTS if small else 0)):
        yield _without_below(whole, least)


def _steps(whole: int, k: int) -> Function:
    """Shares are rounded to k-ths, as k + 1 of them would go by (k + 1)-ths; whole (k + 1)-ths stay."""

    def share(side: int) -> int:
        parts, rest = divmod(side * (k + 1), whole)
        return parts * WHOLE // k if rest else side * WHOLE // whole

    return share


def _without_below(whole: int, least: int) -> Function:
    """What leaves less than `least` beside it counts as a whole, what is less than that as nothing."""
    return lambda side: WHOLE if side > whole - least else side * WHOLE // whole if side >= least else 0
