"""Which fours of pieces cannot stand on one shelf: asked in every order in which all threes of them could.

In an order from left to right and one from front to back, the first may as well stand at the edge and the
last at the other edge. Each two must be so far apart along the room as their greatest distance across it asks
for, and the other way round. That narrows where each of them can be, again and again. Where nothing is left
for one, the order is impossible; where all orders are, so are the four. What is refused can never be laid;
what is not refused nearly always can. Lengths are half millimetres, as in scheduling.engine.packing.clear.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise, permutations, product

import numpy as np

from scheduling.engine.packing.clear import ROOTS_DIFFER, Fractions, Whole, clear, needed
from scheduling.engine.packing.spaced import Sides
from scheduling.engine.packing.threes import ORDERS, Yes

NARROWINGS = 4
# So many orders of each four are asked at first, so many in all next; then all others.
ORDERS_AT_ONCE = (3, 20)
THREES = tuple(combinations(range(4), 3))


def _places() -> Whole:
    """Each piece's place on either axis, in all orders without mirror images: (order, axis, piece)."""
    half = [places for places in permutations(range(4)) if places <= tuple(3 - at for at in places)]
    return np.array(list(product(half, half)))


def _order_of_three(places: Whole, three: tuple[int, ...]) -> int:
    """Which of the orders of three some pieces stand in."""
    along, across = places[:, three].tolist()
    left, middle, right = sorted(range(3), key=along.__getitem__)
    if (across[left] < across[middle]) == (across[middle] < across[right]):
        return ORDERS.index((middle,))
    # Bent: the middle one is at one extreme across, the one in the corner at the other.
    farthest = min if across[middle] == max(across) else max
    return ORDERS.index((farthest(left, right, key=across.__getitem__), middle))


PLACES = _places()
# By the orders in which a three of them can stand: in which orders the four could, for each of THREES.
ALLOWED = tuple(
    np.array(
        [
            [bits >> _order_of_three(places, three) & 1 for places in PLACES]
            for bits in range(1 << len(ORDERS))
        ],
        dtype=bool,
    )
    for three in THREES
)


def can_stand(room: Sides, sides: Whole, forms: Whole, threes: Whole, sets: Whole) -> Yes:
    """Whether each set of four can stand in any of several ways, as far as is known.

    For many ways to turn four, (way, piece, ...) `sides` and `forms`; the orders in which each of THREES can
    stand, in bits; and of which of the sets, numbered in a row, it is a way.
    """
    low, high = sides.astype(float), 2.0 * np.array(room) - sides
    found = np.zeros(sets.max(initial=-1) + 1, dtype=bool)
    found[sets[_in_corners(sides, np.array(room), forms)]] = True
    allowed = np.logical_and.reduce([allow[threes[:, n]] for n, allow in enumerate(ALLOWED)])
    way, order = np.nonzero(allowed & ~found[sets, None])
    turn = _turns(sets[way])
    for after, until in pairwise((0, *ORDERS_AT_ONCE, len(way) + 1)):
        some = (turn >= after) & (turn < until) & ~found[sets[way]]
        these = way[some]
        left = _Narrowing(low[these], high[these], forms[these], PLACES[order[some]]).left()
        found[sets[these[left]]] = True
    return found


def _turns(sets: Whole) -> Whole:
    """How many rows of the same set come before each row; a set's rows may lie apart."""
    by_set = np.argsort(sets, kind="stable")
    first = np.searchsorted(sets[by_set], sets[by_set])
    turns = np.empty_like(by_set)
    turns[by_set] = np.arange(len(sets)) - first
    return turns


def _in_corners(sides: Whole, room: Whole, forms: Whole) -> Yes:
    """The quick answer: each in a corner of its own."""
    found = np.zeros(len(sides), dtype=bool)
    i, j = np.triu_indices(4, 1)
    for corners in permutations(product((False, True), repeat=2)):
        at = np.where(corners, 2 * room - sides, sides)
        found |= clear(at[:, j] - at[:, i], forms[:, i] + forms[:, j]).all(axis=1)
    return found


@dataclass
class _Narrowing:
    """From where to where each middle can be, (row, piece, axis), and the order: (row, axis, piece)."""

    low: Fractions
    high: Fractions
    forms: Whole
    places: Whole

    def left(self) -> Whole:
        """The rows in which every piece still has a place at last."""
        rows = np.arange(len(self.low))
        self._to_the_edges()
        for _ in range(NARROWINGS):
            for one, other in combinations(range(4), 2):
                self._part(one, other)
            good = (self.low <= self.high + ROOTS_DIFFER).all(axis=(1, 2))
            rows, self.low, self.high = rows[good], self.low[good], self.high[good]
            self.forms, self.places = self.forms[good], self.places[good]
            if not len(rows):
                break
        return rows

    def _to_the_edges(self) -> None:
        places = self.places.swapaxes(1, 2)
        self.high = np.where(places == 0, self.low, self.high)
        self.low = np.where(places == 3, self.high, self.low)

    def _part(self, one: int, other: int) -> None:
        """Along either axis as far apart as they must be, by how far they can be along the other one."""
        between, rows = self.forms[:, one] + self.forms[:, other], np.arange(len(self.forms))
        swapped = self.places[:, :, one] > self.places[:, :, other]
        for axis, aside in ((0, 1), (1, 0)):
            nearer, farther = (
                (rows, np.where(swapped[:, aside], *pair), aside) for pair in ((other, one), (one, other))
            )
            need = needed(self.high[farther] - self.low[nearer], between, axis)
            nearer, farther = (
                (rows, np.where(swapped[:, axis], *pair), axis) for pair in ((other, one), (one, other))
            )
            self.low[farther] = np.maximum(self.low[farther], self.low[nearer] + need)
            self.high[nearer] = np.minimum(self.high[nearer], self.high[farther] - need)
