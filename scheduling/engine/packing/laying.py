"""Laying one piece after another, each into the free rectangle that it suits best.

What is free on a shelf is kept as the largest rectangles in it, which may overlap (maximal rectangles;
from memory). A piece is laid into the corner of one of them that is nearest to the origin; what it covers
is cut out of all.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from scheduling.engine.packing.spaced import Box, Layout, Sides, Spaced

Merit = tuple[int, int]  # the less, the better
Fit = Callable[[Box, Sides], Merit]


def least_beside(free: Box, sides: Sides) -> Merit:
    """As little as can be left on one side."""
    length, width = free[2] - free[0] - sides[0], free[3] - free[1] - sides[1]
    return (length, width) if length < width else (width, length)


def least_area(free: Box, sides: Sides) -> Merit:
    """As little as can be left of the rectangle."""
    length, width = free[2] - free[0], free[3] - free[1]
    return length * width - sides[0] * sides[1], min(length - sides[0], width - sides[1])


def nearest_front(free: Box, sides: Sides) -> Merit:
    """As near to the front as it goes, then to the left."""
    return free[1] + sides[1], free[0]


def nearest_left(free: Box, sides: Sides) -> Merit:
    """As near to the left as it goes, then to the front."""
    return free[0] + sides[0], free[1]


FITS: tuple[Fit, ...] = (least_beside, least_area, nearest_front, nearest_left)


@dataclass
class OpenShelf:
    """A shelf that is being laid: what is free on it, and what lies where."""

    room: Sides
    free: list[Box] = field(default_factory=list)
    laid: list[tuple[int, Box]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.free = [(0, 0, *self.room)]

    def best(self, ways: Sequence[Sides], fit: Fit) -> tuple[Merit, Box] | None:
        """Where a piece suits best, and how well; None where it does not fit."""
        found: tuple[Merit, Box] | None = None
        for free in self.free:
            left, front, right, back = free
            for sides in ways:
                if sides[0] <= right - left and sides[1] <= back - front:
                    merit = fit(free, sides)
                    if found is None or merit < found[0]:
                        found = merit, (left, front, left + sides[0], front + sides[1])
        return found

    def lay(self, kind: int, box: Box) -> None:
        """Lay a piece there."""
        self.laid.append((kind, box))
        self.cover(box)

    def cover(self, box: Box) -> None:
        """Nothing may lie there any more."""
        kept = [free for free in self.free if not overlap(free, box)]
        parts = list(
            dict.fromkeys(part for free in self.free if overlap(free, box) for part in _around(free, box))
        )
        parts = [part for part in parts if not any(_within(part, free) for free in kept)]
        self.free = kept + [
            part for part in parts if not any(_within(part, other) for other in parts if other is not part)
        ]


def lay_first(what: Spaced, order: Sequence[int], fit: Fit) -> list[Layout]:
    """Each kind of an order onto the first shelf that has room for it."""
    shelves: list[OpenShelf] = []
    for kind in order:
        ways = what.kinds[kind].ways
        for shelf in shelves:
            if found := shelf.best(ways, fit):
                shelf.lay(kind, found[1])
                break
        else:
            shelves.append(_opened(what, kind, fit))
    return [tuple(shelf.laid) for shelf in shelves]


def lay_best(what: Spaced, order: Sequence[int], fit: Fit) -> list[Layout]:
    """Each kind of an order onto the shelf on which it suits best."""
    shelves: list[OpenShelf] = []
    for kind in order:
        ways = what.kinds[kind].ways
        found = [(best, number) for number, shelf in enumerate(shelves) if (best := shelf.best(ways, fit))]
        if found:
            (_, box), number = min(found)
            shelves[number].lay(kind, box)
        else:
            shelves.append(_opened(what, kind, fit))
    return [tuple(shelf.laid) for shelf in shelves]


def _opened(what: Spaced, kind: int, fit: Fit) -> OpenShelf:
    shelf = OpenShelf(what.room)
    found = shelf.best(what.kinds[kind].ways, fit)
    if found is None:
        raise ValueError("a piece that fits on no shelf cannot be laid")
    shelf.lay(kind, found[1])
    return shelf


def overlap(one: Box, other: Box) -> bool:
    """Whether two boxes have more in common than an edge."""
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _around(free: Box, box: Box) -> Iterator[Box]:
    """The largest rectangles of what a piece leaves of a free one."""
    left, front, right, back = free
    if box[0] > left:
        yield (left, front, box[0], back)
    if box[2] < right:
        yield (box[2], front, right, back)
    if box[1] > front:
        yield (left, front, right, box[1])
    if box[3] < back:
        yield (left, box[3], right, back)


def _within(one: Box, other: Box) -> bool:
    return one[0] >= other[0] and one[1] >= other[1] and one[2] <= other[2] and one[3] <= other[3]
