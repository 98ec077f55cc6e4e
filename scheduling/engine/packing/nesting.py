"""Pieces closer than the squares around rounds: each new one touches two of what stands there, or the margin.

Where a piece could stand is worked out in fractions of a millimetre and judged in whole ones, so that none
ever stands too near.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count

import numpy as np

from scheduling.engine.packing.clear import Fractions, Whole, apart, clear, middle
from scheduling.engine.packing.spaced import Box, Form, Layout, Load, Sides, Spaced, form

# How well a piece of some form stands, by the back right corner of each place for it: the less, the better.
Merit = Callable[[Whole, "NestedShelf", Form], Whole | Fractions]
SLACK = 1.0  # half millimetres by which a place may be wrong before it is put on whole ones
SIGNS = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
ROUNDED = np.array([(0, 0), (1, 0), (0, 1), (1, 1)])


@dataclass
class NestedShelf:
    """A shelf that is being laid with rectangles and rounds, and what is known to find no room on it."""

    room: Sides
    laid: list[tuple[int, Box]] = field(default_factory=list)
    middles: Whole = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    forms: Whole = field(default_factory=lambda: np.zeros((0, 3), dtype=np.int64))
    refused: list[int] = field(default_factory=list)
    left: int = field(init=False)

    def __post_init__(self) -> None:
        self.left = self.room[0] * self.room[1]

    def join(self, what: Spaced, number: int, merit: Merit) -> bool:
        """Lay a piece of this kind where it stands best, if there is room."""
        if not self._might_take(what, number):
            return False
        kind = what.kinds[number]
        ways = [(form(kind, way), way) for way in kind.ways]
        found = [best for shape, way in ways if (best := self.best(shape, way, merit))]
        if not found:
            self.refused.append(number)
            return False
        self.put(what, number, min(found)[1])
        return True

    def put(self, what: Spaced, number: int, box: Box) -> None:
        """A piece of this kind stands there."""
        kind = what.kinds[number]
        self.laid.append((number, box))
        self.cover(box, form(kind, (box[2] - box[0], box[3] - box[1])))
        self.left -= kind.area

    def cover(self, box: Box, shape: Form) -> None:
        """Something stands there."""
        self.middles = np.vstack((self.middles, middle(box)))
        self.forms = np.vstack((self.forms, shape))

    def _might_take(self, what: Spaced, number: int) -> bool:
        """Not where area is short, or one that stands there keeps it away, or one within it was refused."""
        return (
            what.kinds[number].area <= self.left
            and what.excluding[number].isdisjoint(kind for kind, _ in self.laid)
            and what.within[number].isdisjoint(self.refused)
        )

    def best(self, shape: Form, sides: Sides, merit: Merit) -> tuple[float, Box] | None:
        """The first place by merit where it stands clear of everything."""
        low, high = np.array(sides), 2 * np.array(self.room) - np.array(sides)
        between = self.forms + np.array(shape)
        places = corners(self.middles, between, low, high)
        near = ((places >= low - SLACK) & (places <= high + SLACK)).all(axis=1)
        places = places[near]
        near = (apart(places[:, None] - self.middles, between) >= -SLACK).all(axis=1)
        lefts = np.floor((places[near] - low) / 2).astype(np.int64)
        whole = 2 * (lefts[:, None] + ROUNDED).reshape(-1, 2) + low
        whole = whole[((whole >= low) & (whole <= high)).all(axis=1)]
        whole = whole[clear(whole[:, None] - self.middles, between).all(axis=1)]
        if not len(whole):
            return None
        merits = merit(whole + low, self, shape)
        first = int(merits.argmin())
        left, front = (int(one) for one in (whole[first] - low) // 2)
        return float(merits[first]), (left, front, left + sides[0], front + sides[1])


def to_front(far: Whole, shelf: NestedShelf, _shape: Form) -> Whole:
    """As near to the front as it goes, then to the left."""
    found: Whole = far[:, 1] * (4 * shelf.room[0]) + far[:, 0]
    return found


def to_left(far: Whole, shelf: NestedShelf, _shape: Form) -> Whole:
    """As near to the left as it goes, then to the front."""
    found: Whole = far[:, 0] * (4 * shelf.room[1]) + far[:, 1]
    return found


def into_corner(far: Whole, _shelf: NestedShelf, _shape: Form) -> Whole:
    """As near to the corner as it goes."""
    found: Whole = far.sum(axis=1)
    return found


def snug(far: Whole, shelf: NestedShelf, shape: Form) -> Fractions:
    """As near to a third thing as it goes, beside the two that it touches."""
    sides = np.array(shape[:2]) + shape[2]
    places = far - sides
    beside = [
        places - sides,
        2 * np.array(shelf.room) - far,
        apart(places[:, None] - shelf.middles, shelf.forms + np.array(shape)),
    ]
    return np.partition(np.hstack(beside), 2, axis=1)[:, 2]


MERITS: tuple[Merit, ...] = (to_front, to_left, into_corner, snug)


def corners(middles: Whole, between: Whole, low: Whole, high: Whole) -> Fractions:
    """Where a middle could be: where two of what the piece may touch allow it."""
    reach = between[:, :2] + between[:, 2:]
    lines = np.concatenate((low[None], high[None], middles - reach, middles + reach))
    along, across = (line[(line >= low[n]) & (line <= high[n])] for n, line in enumerate(lines.T))
    crossing = np.empty((len(along), len(across), 2))
    crossing[..., 0], crossing[..., 1] = along[:, None], across
    circles = _circles(middles, between)
    return np.concatenate(
        (crossing.reshape(-1, 2), _on_lines(along, circles, 0), _on_lines(across, circles, 1), _meet(circles))
    )


def _circles(middles: Whole, between: Whole) -> Fractions:
    """The round corners of what must be between: around a point, so far away."""
    core, far = between[:, :2], between[:, 2:]
    square = core.any(axis=1)
    if not square.any():
        return np.hstack((middles, far)).astype(float)
    bent = square & (far[:, 0] > 0)
    around = (np.hstack((middles[bent] + core[bent] * sign, far[bent])) for sign in SIGNS)
    return np.concatenate((np.hstack((middles[~square], far[~square])), *around)).astype(float)


def _on_lines(line: Whole, circles: Fractions, n: int) -> Fractions:
    """Where lines along one side of the room meet circles."""
    half = circles[:, 2] ** 2 - (line[:, None] - circles[:, n]) ** 2
    which, circle = np.nonzero(half >= 0)
    root = np.sqrt(half[which, circle])
    places = np.empty((2, len(which), 2))
    places[..., n] = line[which]
    places[0, :, 1 - n] = circles[circle, 1 - n] - root
    places[1, :, 1 - n] = circles[circle, 1 - n] + root
    return places.reshape(-1, 2)


def _meet(circles: Fractions) -> Fractions:
    """Where two circles meet."""
    i, j = np.triu_indices(len(circles), 1)
    away = circles[j, :2] - circles[i, :2]
    far = np.hypot(away[:, 0], away[:, 1])
    some = (far > 0) & (far < circles[i, 2] + circles[j, 2])
    i, j, away, far = i[some], j[some], away[some], far[some]
    along = (far**2 + circles[i, 2] ** 2 - circles[j, 2] ** 2) / (2 * far)
    half = circles[i, 2] ** 2 - along**2
    some = half >= 0
    i, away, far, along = i[some], away[some], far[some], along[some]
    aside = np.sqrt(half[some])
    unit = away / far[:, None]
    across = np.stack((-unit[:, 1], unit[:, 0]), axis=1)
    foot = circles[i, :2] + along[:, None] * unit
    return np.concatenate((foot + aside[:, None] * across, foot - aside[:, None] * across))


def lay_nested(what: Spaced, order: Sequence[int], merit: Merit) -> list[Layout]:
    """Each kind of an order onto the first shelf that has room for it."""
    shelves: list[NestedShelf] = []
    for kind in order:
        if not any(shelf.join(what, kind, merit) for shelf in shelves):
            shelves.append(NestedShelf(what.room))
            shelves[-1].join(what, kind, merit)
    return [tuple(shelf.laid) for shelf in shelves]


def fill_nested(what: Spaced, order: Sequence[int], merit: Merit) -> Layout:
    """One shelf: each kind of an order that still has room."""
    return beside_nested(what, (), order, merit)


def beside_nested(what: Spaced, layout: Layout, order: Sequence[int], merit: Merit) -> Layout:
    """What is laid stays, and each kind of an order that still has room joins."""
    shelf = NestedShelf(what.room)
    for number, box in layout:
        shelf.put(what, number, box)
    for kind in order:
        shelf.join(what, kind, merit)
    return tuple(shelf.laid)


def nested_orders(what: Spaced) -> Iterator[tuple[list[int], Merit]]:
    """Without end: the largest first with each merit, then shaken more and more."""
    at_random = random.Random(5)  # noqa: S311 - the same each time, and nothing secret
    for number in count():
        shaken = min(0.5, 0.02 * (number - number % len(MERITS)))
        weights = [kind.area * at_random.uniform(1 - shaken, 1 + shaken) for kind in what.kinds]
        yield sorted(what.each, key=lambda kind: -weights[kind]), MERITS[number % len(MERITS)]


def laid_nested(what: Spaced, load: Load) -> Layout | None:
    """A whole load on one shelf, the largest first by each merit; None where none of them does it."""
    order = sorted(load, key=lambda kind: -what.kinds[kind].area)
    for merit in MERITS:
        if len(found := fill_nested(what, order, merit)) == len(load):
            return found
    return None
