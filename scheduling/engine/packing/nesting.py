"""Rounds closer than the squares around them: each new one touches two of what stands there, or the margin.

Rectangles are laid first, then the rounds. Where a round one could stand is worked out in fractions of a
millimetre and judged in whole ones, so that none ever stands too near.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, count, product
from math import ceil, floor, hypot, sqrt

from scheduling.engine.packing.laying import FITS, OpenShelf
from scheduling.engine.packing.spaced import Box, Layout, Load, Spaced

Point = tuple[float, float]
Circle = tuple[float, float, float]  # where the centre of a round piece may be: around a point, so far away
Merit = Callable[[Point], Point]
# To the front, to the left, into the corner.
MERITS: tuple[Merit, ...] = (
    lambda at: (at[1], at[0]),
    lambda at: (at[0], at[1]),
    lambda at: (at[0] + at[1], at[0]),
)

ORDERS = 1


@dataclass
class NestedShelf(OpenShelf):
    """A shelf with rectangles on it, and rounds among them."""

    rounds: list[Box] = field(default_factory=list)

    @property
    def boxes(self) -> list[Box]:
        """The rectangles that stand on it."""
        among = set(self.rounds)
        return [box for _, box in self.laid if box not in among]

    def nearest(self, diameter: int, merit: Merit) -> Box | None:
        """The first place by merit where a round one stands clear of everything."""
        radius = diameter / 2
        boxes = self.boxes
        for x, y in sorted(set(self._corners(diameter, boxes)), key=merit):
            for left, front in product(
                {floor(x - radius), ceil(x - radius)}, {floor(y - radius), ceil(y - radius)}
            ):
                box = (left, front, left + diameter, front + diameter)
                if self._clear(box, boxes):
                    return box
        return None

    def _corners(self, diameter: int, boxes: Sequence[Box]) -> Iterator[Point]:
        """Where its centre could be: where two of what it may touch allow it."""
        radius = diameter / 2
        along = {
            radius,
            self.room[0] - radius,
            *(box[2] + radius for box in boxes),
            *(box[0] - radius for box in boxes),
        }
        across = {
            radius,
            self.room[1] - radius,
            *(box[3] + radius for box in boxes),
            *(box[1] - radius for box in boxes),
        }
        circles = [
            *((*_centre(each), (each[2] - each[0]) / 2 + radius) for each in self.rounds),
            *((x, y, radius) for box in boxes for x, y in product(box[::2], box[1::2])),
        ]
        yield from product(along, across)
        for circle in circles:
            yield from ((x, y) for x in along for y in _on_line(circle[0] - x, circle[1], circle[2]))
            yield from ((x, y) for y in across for x in _on_line(circle[1] - y, circle[0], circle[2]))
        for one, other in combinations(circles, 2):
            yield from _meet(one, other)

    def _clear(self, box: Box, boxes: Sequence[Box]) -> bool:
        if box[0] < 0 or box[1] < 0 or box[2] > self.room[0] or box[3] > self.room[1]:
            return False
        return all(_apart(box, other) for other in self.rounds) and all(
            _beside(box, other) for other in boxes
        )


def lay_nested(what: Spaced, order: Sequence[int], merit: Merit) -> list[Layout]:
    """Rectangles, then rounds, in this order, each onto the first shelf that has room for it."""
    shelves: list[NestedShelf] = []
    for kind in sorted(order, key=lambda kind: what.kinds[kind].round):
        if not any(_joins(shelf, what, kind, merit) for shelf in shelves):
            shelves.append(NestedShelf(what.room))
            _joins(shelves[-1], what, kind, merit)
    return [tuple(shelf.laid) for shelf in shelves]


def nested_orders(what: Spaced) -> Iterator[tuple[list[int], Merit]]:
    """Without end: the largest first with each merit, then shaken more and more."""
    at_random = random.Random(5)  # noqa: S311 - the same each time, and nothing secret
    for number in count():
        shaken = min(0.5, 0.02 * (number - number % len(MERITS)))
        weights = [kind.ways[0][0] * at_random.uniform(1 - shaken, 1 + shaken) for kind in what.kinds]
        yield sorted(what.each, key=lambda kind: -weights[kind]), MERITS[number % len(MERITS)]


def laid_nested(what: Spaced, load: Load, at_random: random.Random) -> Layout | None:
    """A whole load on one shelf, after some orders; None where none of them does it."""
    order = sorted(load, key=lambda kind: -what.kinds[kind].area)
    for _ in range(ORDERS):
        for merit in MERITS:
            if len(found := lay_nested(what, order, merit)) == 1:
                return found[0]
        at_random.shuffle(order)
    return None


def _joins(shelf: NestedShelf, what: Spaced, kind: int, merit: Merit) -> bool:
    ways = what.kinds[kind].ways
    if not what.kinds[kind].round:
        if found := shelf.best(ways, FITS[0]):
            shelf.lay(kind, found[1])
        return found is not None
    box = shelf.nearest(ways[0][0], merit)
    if box is not None:
        shelf.rounds.append(box)
        shelf.laid.append((kind, box))
    return box is not None


def _centre(box: Box) -> Point:
    return (box[0] + box[2]) / 2, (box[1] + box[3]) / 2


def _on_line(away: float, middle: float, radius: float) -> tuple[float, ...]:
    """Where a line that passes a circle's centre at some distance meets the circle."""
    half = radius**2 - away**2
    return () if half < 0 else (middle - sqrt(half), middle + sqrt(half))


def _meet(one: Circle, other: Circle) -> Iterator[Point]:
    """Where two circles meet."""
    x, y = other[0] - one[0], other[1] - one[1]
    apart = hypot(x, y)
    if apart:
        along = (apart**2 + one[2] ** 2 - other[2] ** 2) / (2 * apart)
        for aside in _on_line(along, 0.0, one[2]):
            yield one[0] + (along * x - aside * y) / apart, one[1] + (along * y + aside * x) / apart


def _apart(one: Box, other: Box) -> bool:
    """Whether two rounds do not overlap: in half millimetres, so that all is whole."""
    x, y = one[0] + one[2] - other[0] - other[2], one[1] + one[3] - other[1] - other[3]
    return x * x + y * y >= (one[2] - one[0] + other[2] - other[0]) ** 2


def _beside(disc: Box, box: Box) -> bool:
    """Whether a round one does not overlap a rectangle."""
    x = max(2 * box[0] - disc[0] - disc[2], disc[0] + disc[2] - 2 * box[2], 0)
    y = max(2 * box[1] - disc[1] - disc[3], disc[1] + disc[3] - 2 * box[3], 0)
    return x * x + y * y >= (disc[2] - disc[0]) ** 2
