"""How many shelves there must be at least, whoever lays them.

Every bound is of one form: each piece has a weight, no shelf can carry more weight than one, so there
must be as many shelves as all pieces weigh. By area, a piece weighs its share of the room. By pairs,
pieces of which no two can stand on one shelf weigh one each. A function f of a side's share of the room
is *dual feasible* where shares that add up to at most one keep doing so under it; with one for the length
and one for the width, f times g is such a weight. A piece that may be turned has the lesser of both; a
round one that of any rectangle within it, or of its length in a file of wide ones, or of a polygon around it
(scheduling.engine.packing.cells).

Sources, both from memory: S. P. Fekete and J. Schepers, A general framework for bounds for
higher-dimensional orthogonal packing problems, Mathematical Methods of Operations Research 60 (2004)
311-329; S. Martello and D. Vigo, Exact solution of the two-dimensional finite bin packing problem,
Management Science 44 (1998) 388-399.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from math import isqrt

import numpy as np

from scheduling.engine.packing.cells import cell_weights
from scheduling.engine.packing.clear import Whole
from scheduling.engine.packing.spaced import Kind, Spaced, exclude

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
    return Bound(shelves=_shelves(what, side_weights(what)), by="dual feasible")


def by_cells(what: Spaced) -> Bound:
    """With the room that rounds take beyond their area."""
    return Bound(shelves=_shelves(what, cell_weights(what, WHOLE)), by="cells")


def best(what: Spaced) -> Bound:
    """The first of the simple bounds that is the largest."""
    found = (by_area(what), by_pairs(what), by_functions(what), by_cells(what))
    return max(found, key=lambda bound: bound.shelves)


def _shelves(what: Spaced, weighed: Whole) -> int:
    """The bound that follows from the best of these weights."""
    pieces = np.array([len(kind.pieces) for kind in what.kinds], dtype=np.int64)
    return max((-(-int(total) // WHOLE) for total in weighed @ pieces), default=0)


def weights(what: Spaced) -> Whole:
    """All of them: what each kind weighs, in parts of a shelf that carries no more than WHOLE."""
    return np.concatenate((side_weights(what), cell_weights(what, WHOLE)))


@lru_cache(maxsize=2)
def side_weights(what: Spaced) -> Whole:
    """What each kind weighs by area, by each function with each other, and in a file: (argument, kind)."""
    length, width = what.room
    share = tuple(kind.area * WHOLE // (length * width) for kind in what.kinds)
    found = dict.fromkeys((share, *(_products(what) if what.kinds else ())))
    for side in (0, 1):
        found |= dict.fromkeys(_in_a_file(what, side))
    return np.array(list(found), dtype=np.int64).reshape(len(found), len(what.kinds))


def _products(what: Spaced) -> Iterator[tuple[int, ...]]:
    """One function for the length, one for the width; a round one weighs as the best rectangle within it."""
    ways = [cores for kind in what.kinds for cores in kind.cores]
    first_core = np.cumsum([0, *(len(cores) for cores in ways[:-1])])
    first_way = np.cumsum([0, *(len(kind.ways) for kind in what.kinds[:-1])])
    cores = np.array([core for cores in ways for core in cores])
    known = {side for kind in what.kinds for cores in kind.cores for side in cores[0]}
    along, across = (
        np.array([[f(side) for side in sides] for f in _functions(whole, known)])
        for whole, sides in zip(what.room, cores.T.tolist(), strict=True)
    )
    for f, g in product(along, across):
        by_way = np.maximum.reduceat(f * g // WHOLE, first_core)
        yield tuple(np.minimum.reduceat(by_way, first_way).tolist())


def _in_a_file(what: Spaced, side: int) -> Iterator[tuple[int, ...]]:
    """What is wider than half the room stands one behind the other, and lengths are all that counts.

    Two rounds of diameters a and b in a room of width w are at most w − (a + b) / 2 apart across it, so at
    least √(w · (a + b − w)) along it: no less than half of √(w · (2a − w)) and of √(w · (2b − w)) together.
    So a round one that wide stands for a rectangle of that length; beside rectangles, too.
    """
    length, width = what.room[side], what.room[1 - side]
    lengths = [
        tuple(
            0
            if 2 * way[1 - side] <= width
            else isqrt(width * (2 * way[0] - width))
            if kind.round
            else way[side]
            for way in kind.ways
        )
        for kind in what.kinds
    ]
    for f in _functions(length, {one for ways in lengths for one in ways if one}):
        yield tuple(min(f(one) for one in ways) for ways in lengths)


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
