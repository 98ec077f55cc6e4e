"""Open shelf space: whether further pieces find room beside what stands on a shelf already, and where."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

from scheduling.engine.packing.laying import FITS, Fit, OpenShelf
from scheduling.engine.packing.nesting import MERITS, Merit, NestedShelf
from scheduling.engine.packing.shapes import Footprint, Placed, Shelf
from scheduling.engine.packing.spaced import Box, Layout, Spaced, placed, spaced

ORDERS = 15
Taken = tuple[Footprint, Box]


def fits_beside(
    pieces: Sequence[Footprint],
    shelf: Shelf,
    standing: Sequence[tuple[Footprint, Placed]],
    *,
    number: int = 0,
) -> tuple[Placed, ...] | None:
    """Where all of these further pieces go on a shelf where others stand and stay; None where none is found.

    What is given back counts the further pieces from zero, on the shelf of this number. It is tried with many
    orders, so a place in a full shelf may be overlooked; what is found is always good.
    """
    if not all(shelf.holds(piece) for piece in pieces):
        return None
    what = spaced(pieces, shelf)
    taken = [(piece, _widened(piece, at, shelf)) for piece, at in standing]
    layout = next(filter(None, _layouts(what, taken)), None) if pieces else ()
    return None if layout is None else placed([layout], what, pieces, shelf, first=number)


def _layouts(what: Spaced, taken: Sequence[Taken]) -> Iterator[Layout | None]:
    """Order after order, each with every way to lay them; at last with rounds closer than their squares."""
    at_random = random.Random(4)  # noqa: S311 - the same each time, and nothing secret
    order = sorted(what.each, key=lambda kind: -what.kinds[kind].area)
    for _ in range(ORDERS):
        yield from (_laid(what, taken, order, fit) for fit in FITS)
        at_random.shuffle(order)
    if what.nesting or any(piece.round for piece, _ in taken):
        order.sort(key=lambda kind: -what.kinds[kind].area)
        yield from (_nested(what, taken, order, merit) for merit in MERITS)


def _laid(what: Spaced, taken: Sequence[Taken], order: Sequence[int], fit: Fit) -> Layout | None:
    shelf = OpenShelf(what.room)
    for _, box in taken:
        shelf.cover(box)
    for kind in order:
        found = shelf.best(what.kinds[kind].ways, fit)
        if found is None:
            return None
        shelf.lay(kind, found[1])
    return tuple(shelf.laid)


def _nested(what: Spaced, taken: Sequence[Taken], order: Sequence[int], merit: Merit) -> Layout | None:
    shelf = NestedShelf(what.room)
    for piece, box in taken:
        length, width = box[2] - box[0], box[3] - box[1]
        shelf.cover(box, (0, 0, length) if piece.round else (length, width, 0))
    return tuple(shelf.laid) if all(shelf.join(what, kind, merit) for kind in order) else None


def _widened(piece: Footprint, at: Placed, shelf: Shelf) -> Box:
    length, width = piece.sides(turned=at.turned)
    left, front = at.x_mm - shelf.margin_mm, at.y_mm - shelf.margin_mm
    return left, front, left + length + shelf.spacing_mm, front + width + shelf.spacing_mm
