"""Pieces with the spacing around them, alike ones together: two widened pieces that do not overlap keep it.

Half the spacing goes around every piece and around what lies within the margin. As all of them stand parallel
to the edges, only the widened sides count; the room is that much longer and wider, its corner the origin.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import floor, isqrt, pi

from scheduling.engine.packing.shapes import Footprint, Placed, Shelf

Sides = tuple[int, int]
Box = tuple[int, int, int, int]  # left, front, right, back
# The sides of a rectangle and nothing, or nothing twice and the diameter of a round one; of two, the sum.
Form = tuple[int, int, int]
Load = tuple[int, ...]  # the kinds that stand on one shelf, in ascending order
Layout = tuple[tuple[int, Box], ...]  # on one shelf: which kind, where
# So many rectangles within a round one are asked.
CORES = 16


@dataclass(frozen=True, kw_only=True)
class Kind:
    """Pieces that are alike: the ways one can stand, and which they are."""

    ways: tuple[Sides, ...]
    round: bool
    pieces: tuple[int, ...]

    @cached_property
    def area(self) -> int:
        """At least what it takes of a shelf, rounded down to a square millimetre."""
        length, width = self.ways[0]
        return floor(pi / 4 * length * width) if self.round else length * width

    @cached_property
    def cores(self) -> tuple[tuple[Sides, ...], ...]:
        """For each way, rectangles that lie within the piece: of a round one many, the square first."""
        if not self.round:
            return tuple((way,) for way in self.ways)
        across = self.ways[0][0]
        square = isqrt(across**2 // 2)
        lengths = [square, *(across * part // CORES for part in range(1, CORES))]
        return (tuple((length, isqrt(across**2 - length**2)) for length in lengths),)


def form(kind: Kind, way: Sides) -> Form:
    """A piece as it stands."""
    return (0, 0, way[0]) if kind.round else (*way, 0)


def exclude(one: Kind, other: Kind, room: Sides) -> bool:
    """Whether two pieces cannot stand on one shelf, however they are turned."""
    return all(_exclude_so(one, a, other, b, room) for a, b in product(one.ways, other.ways))


def _exclude_so(one: Kind, a: Sides, other: Kind, b: Sides, room: Sides) -> bool:
    """Whether two pieces that stand in these ways cannot be on one shelf: neither goes beside the other.

    They are farthest apart in two corners of the room; rounds may nest there.
    """
    length, width, across = (x + y for x, y in zip(form(one, a), form(other, b), strict=True))
    along, aside = 2 * room[0] - a[0] - b[0] - length, 2 * room[1] - a[1] - b[1] - width
    return max(along, aside) < 0 or max(along, 0) ** 2 + max(aside, 0) ** 2 < across**2


def within(small: Kind, large: Kind) -> bool:
    """Whether the one could always stand where the other stands."""
    if small.round and large.round:
        return small.ways[0][0] <= large.ways[0][0]
    if small.round:
        return all(small.ways[0][0] <= min(way) for way in large.ways)
    if large.round:
        return any(way[0] ** 2 + way[1] ** 2 <= large.ways[0][0] ** 2 for way in small.ways)
    return all(any(a[0] <= b[0] and a[1] <= b[1] for a in small.ways) for b in large.ways)


@dataclass(frozen=True, kw_only=True)
class Spaced:
    """All there is to lay on shelves of one room."""

    room: Sides
    kinds: tuple[Kind, ...]

    @cached_property
    def each(self) -> tuple[int, ...]:
        """The kind of every piece, the alike ones in a row."""
        return tuple(number for number, kind in enumerate(self.kinds) for _ in kind.pieces)

    @cached_property
    def excluding(self) -> tuple[frozenset[int], ...]:
        """For each kind, those that cannot stand on one shelf with it."""
        return self._those(lambda one, other: exclude(one, other, self.room))

    @cached_property
    def within(self) -> tuple[frozenset[int], ...]:
        """For each kind, those that could always stand in its place, itself among them."""
        return self._those(lambda one, other: within(other, one))

    def _those(self, holds: Callable[[Kind, Kind], bool]) -> tuple[frozenset[int], ...]:
        numbered = list(enumerate(self.kinds))
        return tuple(frozenset(n for n, other in numbered if holds(one, other)) for one in self.kinds)

    @cached_property
    def nesting(self) -> bool:
        """Whether any of the pieces might stand closer than the squares around rounds."""
        return self.nests(self.each)

    def nests(self, load: Load) -> bool:
        """Whether rounds might stand closer than the squares around them, which a search leaves out."""
        return any(self.kinds[kind].round for kind in load) and len(load) > 1


def spaced(pieces: Sequence[Footprint], shelf: Shelf) -> Spaced:
    """Widen pieces, each of which fits on a shelf, and put the alike ones together."""
    room = (shelf.usable_mm[0] + shelf.spacing_mm, shelf.usable_mm[1] + shelf.spacing_mm)
    alike: dict[tuple[bool, tuple[Sides, ...]], list[int]] = defaultdict(list)
    for number, piece in enumerate(pieces):
        alike[piece.round, _ways(piece, shelf.spacing_mm, room)].append(number)
    return Spaced(
        room=room,
        kinds=tuple(
            Kind(ways=ways, round=round_, pieces=tuple(numbers)) for (round_, ways), numbers in alike.items()
        ),
    )


def _ways(piece: Footprint, spacing: int, room: Sides) -> tuple[Sides, ...]:
    both = {piece.sides(turned=False), piece.sides(turned=True)}
    widened = sorted((length + spacing, width + spacing) for length, width in both)
    return tuple(sides for sides in widened if sides[0] <= room[0] and sides[1] <= room[1])


def placed(
    layouts: Sequence[Layout], what: Spaced, pieces: Sequence[Footprint], shelf: Shelf, *, first: int = 0
) -> tuple[Placed, ...]:
    """Back to pieces: those of a kind are taken in turn, the layouts from the first shelf number on."""
    left = [iter(kind.pieces) for kind in what.kinds]
    found = [
        _placed(next(left[kind]), box, number, pieces, shelf)
        for number, layout in enumerate(layouts, first)
        for kind, box in layout
    ]
    return tuple(sorted(found, key=lambda each: each.piece))


def _placed(piece: int, box: Box, number: int, pieces: Sequence[Footprint], shelf: Shelf) -> Placed:
    stands = (box[2] - box[0] - shelf.spacing_mm, box[3] - box[1] - shelf.spacing_mm)
    return Placed(
        piece=piece,
        shelf=number,
        x_mm=box[0] + shelf.margin_mm,
        y_mm=box[1] + shelf.margin_mm,
        turned=stands != pieces[piece].sides(turned=False),
    )
