"""How much room rounds take beyond their own area: the more, the fewer sides the cells around them have.

Where circles do not overlap, each lies in its cell of their power diagram. The cells are convex and part the
room. By Euler's formula two of them have 8 sides in all at most and more, n of them, 6n − 5; one alone has 4.
With rectangles among the rounds each piece has a convex polygon of its own, with no more than 6n sides in all
(L. Fejes Tóth, Some packing and covering theorems, Acta Sci. Math. Szeged 12 (1950) 62-67; from memory). A
polygon of k sides around a circle of radius r has an area of r² · k · tan(π / k) or more, one around a
rectangle that of the rectangle, or twice as much where it has but three sides.

So let a side cost a price λ, and each piece get back six prices. Each takes the least of its polygons' areas
with their cost, and all of a shelf together take no more than the room; two or more, all of them round, no
more than the room less 4λ. A round one that takes more than that stands alone, and weighs a whole shelf. A
piece that takes less than nothing is left out: the others are as good a packing without it.
"""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import pi, tan

import numpy as np

from scheduling.engine.packing.clear import Fractions, Whole
from scheduling.engine.packing.spaced import Spaced

# Polygons around a circle of radius one, by their sides: the least area. With more sides it is more than pi.
SIDES = np.arange(3, 61)
AREAS = np.array([*(sides * tan(pi / sides) for sides in range(3, 60)), pi])
# Prices at which one of the rounds, so many by size, would as soon have one side more.
SIZES, CHANGES = 10, (4, 5, 6, 7)


@lru_cache(maxsize=2)
def cell_weights(what: Spaced, whole: int) -> Whole:
    """What each kind weighs, in so many parts of a shelf, at one price after another: (price, kind)."""
    length, width = np.array([kind.ways[0] for kind in what.kinds], dtype=float).reshape(-1, 2).T
    round_ = np.array([kind.round for kind in what.kinds], dtype=bool)
    room, found = what.room[0] * what.room[1], []
    for price in _prices(np.sort(length[round_] / 2)):
        left = room - (4 * price if round_.all() else 0)
        if left > 0:
            cells = ((length**2 / 4)[:, None] * AREAS + price * (SIDES - 6)).min(axis=1)
            polygons = np.minimum(length * width - 2 * price, 2 * length * width - 3 * price)
            shares = np.where(round_, cells, polygons).clip(0) / left
            found.append(np.minimum(whole, np.floor(whole * shares)))
    return np.array(found, dtype=np.int64).reshape(len(found), len(what.kinds))


def _prices(radii: Fractions) -> list[float]:
    some = radii[(2 * np.arange(SIZES) + 1) * len(radii) // (2 * SIZES)] if len(radii) else radii
    return [
        float(radius**2 * (AREAS[fewer - 3] - AREAS[more - 3]))
        for radius in np.unique(some)
        for fewer, more in pairwise(CHANGES)
    ]
