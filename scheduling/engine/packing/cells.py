"""How much room rounds take beyond their own area: the less the fewer sides the cells around them have.

Where circles do not overlap, each lies in its cell of their power diagram. The cells are convex and part the
room, and by Euler's formula n of them have no more than 6n − 4 sides in all: one has 4, two have 8 at most,
more have 6n − 5. With rectangles among the rounds each piece has a convex polygon of its own, with no more
than 6n sides in all (L. Fejes Tóth, Some packing and covering theorems, Acta Sci. Math. Szeged 12 (1950)
62-67; from memory). A polygon of k sides around a circle of radius r has an area of r² · k · tan(π / k) or
more, one around a rectangle that of the rectangle, or twice as much where it has but three sides.

So at any price λ for a side beyond six or less, all of a shelf's pieces together take at most the room, less
4λ where all are round: each takes the least of its polygons' areas with what their sides cost. A piece that
takes less than nothing is left out, and the others are as good a packing without it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import pi, tan

from scheduling.engine.packing.spaced import Kind, Spaced

# The area of a polygon around a circle of radius one, by its sides; with more sides it is more than pi.
AROUND = {sides: sides * tan(pi / sides) for sides in range(3, 60)}
# Prices at which one of the rounds, so many by size, would as soon have one side more.
SIZES, SIDES = 10, (4, 5, 6, 7)


def cell_weights(what: Spaced, whole: int) -> Iterator[tuple[int, ...]]:
    """What each kind weighs, in so many parts of a shelf, at one price after another."""
    radii = sorted(kind.ways[0][0] / 2 for kind in what.kinds if kind.round)
    some = dict.fromkeys(
        radii[(2 * part + 1) * len(radii) // (2 * SIZES)] for part in range(SIZES if radii else 0)
    )
    all_round = len(radii) == len(what.kinds)
    for radius in some:
        for fewer, more in pairwise(SIDES):
            price = radius**2 * (AROUND[fewer] - AROUND[more])
            room = what.room[0] * what.room[1] - (4 * price if all_round else 0)
            if room > 0:
                shares = (max(0.0, taken(kind, price)) / room for kind in what.kinds)
                yield tuple(min(whole, int(whole * share)) for share in shares)


def taken(kind: Kind, price: float) -> float:
    """The least that a piece takes of the room, with what the sides of its polygon cost."""
    length, width = kind.ways[0]
    if not kind.round:
        return min(length * width - 2 * price, 2 * length * width - 3 * price)
    areas = {**AROUND, max(AROUND) + 1: pi}
    return min((length / 2) ** 2 * area + price * (sides - 6) for sides, area in areas.items())
