"""Pieces with the spacing around them, alike ones together: two widened pieces that do not overlap keep it.

Half the spacing goes around every piece and around what lies within the margin. As all of them stand parallel
to the edges, only the widened sides count; the room is that much longer and wider, its corner the origin.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import floor, isqrt, pi

from scheduling.engine.packing.shapes import Footprint, Placed, Shelf

Sides = tuple[int, int]
Box = tuple[int, int, int, int]  # left, front, right, back
Load = tuple[int, ...]  # the kinds that stand on one shelf, in ascending order
Layout = tuple[tuple[int, Box], ...]  # on one shelf: which kind, where


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
    def cores(self) -> tuple[Sides, ...]:
        """For each way, a rectangle that lies within the piece: of a round one the largest square."""
        if not self.round:
            return self.ways
        side = isqrt(self.ways[0][0] ** 2 // 2)
        return ((side, side),)


@dataclass(frozen=True, kw_only=True)
class Spaced:
    """All there is to lay on shelves of one room."""

    room: Sides
    kinds: tuple[Kind, ...]

    @cached_property
    def each(self) -> tuple[int, ...]:
        """The kind of every piece, the alike ones in a row."""
        return tuple(number for number, kind in enumerate(self.kinds) for _ in kind.pieces)

    def nests(self, load: Load) -> bool:
        """Whether rounds might stand closer than the squares around them, which a search leaves out."""
        return any(self.kinds[kind].round for kind in load) and len(load) > 1

    def only(self, load: Load) -> Spaced:
        """A load by itself, each piece as a kind of its own."""
        alone = (replace(self.kinds[kind], pieces=(0,)) for kind in load)
        return Spaced(room=self.room, kinds=tuple(alone))


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
