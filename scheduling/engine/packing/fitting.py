"""Which twos, threes and fours of pieces can stand together on one shelf, each turned as suits best."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np

from scheduling.engine.packing.clear import Whole, clear
from scheduling.engine.packing.fours import THREES, can_stand
from scheduling.engine.packing.spaced import Spaced, form
from scheduling.engine.packing.threes import Yes, orders_of_threes


class Fitting:
    """What is known of some kinds: `twos` and `threes` that can stand, and fours that are `refused`.

    Kinds in each of their ways are numbered in a row; of threes of these the orders are kept. Fours are asked
    only in ways and orders in which all threes of them can stand.
    """

    def __init__(self, what: Spaced) -> None:
        ways = [(form(kind, way), way) for kind in what.kinds for way in kind.ways]
        self.room = what.room
        self.forms = np.array([shape for shape, _ in ways], dtype=np.int64).reshape(-1, 3)
        self.sides = np.array([way for _, way in ways], dtype=np.int64).reshape(-1, 2)
        self.ways = np.array([len(kind.ways) for kind in what.kinds], dtype=np.int64)
        self.first = np.cumsum(self.ways) - self.ways
        count = len(self.ways)
        apart = 2 * np.array(self.room) - self.sides[:, None] - self.sides
        self.twos = clear(apart, self.forms[:, None] + self.forms)
        for axis in (0, 1):
            self.twos = np.logical_or.reduceat(self.twos, self.first, axis=axis)
        self.orders = np.zeros(3 * (len(self.forms),), dtype=np.int16)
        self.asked_threes, self.threes = (np.zeros(3 * (count,), dtype=bool) for _ in range(2))
        # One number more, which fills up the rows of loads.
        self.asked, self.refused = (np.zeros(4 * (count + 1,), dtype=bool) for _ in range(2))

    def ask_threes(self, rows: Whole) -> Yes:
        """Whether these can stand, each two of which can."""
        new = rows[~self.asked_threes[tuple(rows.T)]]
        found = np.zeros(len(new), dtype=bool)
        for asked, standing in self._standing(new):
            orders = orders_of_threes(self.room, self.sides[standing], self.forms[standing])
            self.orders[tuple(standing.T)] = orders
            found[asked] |= orders > 0
        self.asked_threes[tuple(new.T)] = True
        self.threes[tuple(new[found].T)] = True
        stand: Yes = self.threes[tuple(rows.T)]
        return stand

    def ask_fours(self, rows: Whole, *, most: int) -> int:
        """See which of these cannot stand, each three of which can.

        So many that were not asked before are asked at most. Returns how many, with all ways to turn them.
        """
        rows = rows[~self.asked[tuple(rows.T)]][:most]
        if not len(rows):
            return 0
        ways = list(self._standing(rows))
        sets, standing = (np.concatenate(part) for part in zip(*ways, strict=True))
        orders = np.stack([self.orders[tuple(standing[:, three].T)] for three in THREES], axis=1)
        open_ = (orders > 0).all(axis=1)
        sets, standing, orders = sets[open_], standing[open_], orders[open_]
        found = np.zeros(len(rows), dtype=bool)
        some = can_stand(self.room, self.sides[standing], self.forms[standing], orders, sets)
        found[: len(some)] = some
        self.asked[tuple(rows.T)] = True
        self.refused[tuple(rows[~found].T)] = True
        return len(rows) + len(sets)

    def _standing(self, rows: Whole) -> Iterator[tuple[Whole, Whole]]:
        """In all ways one after the other: those that can stand so, and how; the alike in ascending order."""
        for ways in product(range(self.ways.max(initial=0)), repeat=rows.shape[1]):
            standing = self.first[rows] + ways
            asked = np.flatnonzero(
                (ways < self.ways[rows]).all(axis=1) & (np.diff(standing, axis=1) >= 0).all(axis=1)
            )
            yield asked, standing[asked]
