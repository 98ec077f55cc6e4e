"""Open shelf space: whether further pieces find room beside what stands on a shelf already, and where."""

from __future__ import annotations

import random
from collections.abc import Sequence

from scheduling.engine.packing.laying import FITS, Fit, OpenShelf
from scheduling.engine.packing.shapes import Footprint, Placed, Shelf
from scheduling.engine.packing.spaced import Box, Layout, Spaced, placed, spaced

ORDERS = 60


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
    taken = [_widened(piece, at, shelf) for piece, at in standing]
    at_random = random.Random(4)  # noqa: S311 - the same each time, and nothing secret
    order = sorted(what.each, key=lambda kind: -what.kinds[kind].area)
    for attempt in range(ORDERS):
        layout = _laid(what, taken, order, FITS[attempt % len(FITS)])
        if layout is not None:
            return placed([layout], what, pieces, shelf, first=number)
        if attempt % len(FITS) == len(FITS) - 1:
            at_random.shuffle(order)
    return None


def _laid(what: Spaced, taken: Sequence[Box], order: Sequence[int], fit: Fit) -> Layout | None:
    shelf = OpenShelf(what.room)
    for box in taken:
        shelf.cover(box)
    for kind in order:
        found = shelf.best(what.kinds[kind].ways, fit)
        if found is None:
            return None
        shelf.lay(kind, found[1])
    return tuple(shelf.laid)


def _widened(piece: Footprint, at: Placed, shelf: Shelf) -> Box:
    length, width = piece.sides(turned=at.turned)
    left, front = at.x_mm - shelf.margin_mm, at.y_mm - shelf.margin_mm
    return left, front, left + length + shelf.spacing_mm, front + width + shelf.spacing_mm
