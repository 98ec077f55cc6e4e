"""Filling one shelf with what is worth most: loads that the many ways to lay all pieces did not come upon."""

from __future__ import annotations

import random
from collections.abc import Sequence

from scheduling.engine.packing.covering import NEARLY
from scheduling.engine.packing.laying import FITS, Fit, OpenShelf
from scheduling.engine.packing.nesting import MERITS, beside_nested, fill_nested
from scheduling.engine.packing.spaced import Layout, Spaced

# How much a piece's area counts against its worth, and by how much orders are shaken.
AREA_COUNTS = (0.3, 0.5, 0.7, 1.0, 1.0)
SHAKEN = (0.0, 0.1, 0.3, 0.5, 0.9)
TRIES, TRIES_BESIDE, LAID = 100, 40, 16


def fill(what: Spaced, order: Sequence[int], fit: Fit) -> Layout:
    """One shelf: each kind of an order that still has room."""
    return _beside(what, (), order, fit)


def _beside(what: Spaced, layout: Layout, order: Sequence[int], fit: Fit) -> Layout:
    """What is laid stays, and each kind of an order that still has room joins."""
    shelf = OpenShelf(what.room)
    for kind, box in layout:
        shelf.lay(kind, box)
    for kind in order:
        if found := shelf.best(what.kinds[kind].ways, fit):
            shelf.lay(kind, found[1])
            if not shelf.free:
                break
    return tuple(shelf.laid)


def worth_more(
    what: Spaced, worth: Sequence[float], at_random: random.Random, *, nested: int = 0
) -> list[Layout]:
    """Loads that are worth more than the shelf they take.

    The first tries, so many, let rounds nest; half of all begin with a piece at random.
    """
    found = []
    wanted = [kind for kind in what.each if worth[kind] > 0]
    for number in range(nested + TRIES_BESIDE if nested else TRIES):
        order = _order(what, wanted, worth, at_random, first=number % 2)
        if number < nested:
            layout = fill_nested(what, order, MERITS[number // 2 % len(MERITS)])
        else:
            layout = fill(what, order, FITS[number // 2 % len(FITS)])
        if sum(worth[kind] for kind, _ in layout) > 1 + NEARLY:
            found.append(layout)
    return found


def _order(
    what: Spaced, wanted: Sequence[int], worth: Sequence[float], at_random: random.Random, *, first: int
) -> list[int]:
    shaken, power = at_random.choice(SHAKEN), at_random.choice(AREA_COUNTS)
    density = [
        value / max(kind.area, 1) ** power * at_random.uniform(1 - shaken, 1 + shaken)
        for value, kind in zip(worth, what.kinds, strict=True)
    ]
    order = sorted(wanted, key=lambda kind: -density[kind])
    if first:
        order.insert(0, order.pop(at_random.randrange(len(order))))
    return order


def laid(what: Spaced, load: Sequence[int], at_random: random.Random) -> Layout | None:
    """A whole load on one shelf, after many orders; None where none of them does it."""
    order = sorted(load, key=lambda kind: -what.kinds[kind].area)
    for number in range(LAID):
        if len(found := fill(what, order, FITS[number % len(FITS)])) == len(load):
            return found
        if number % len(FITS) == len(FITS) - 1:
            at_random.shuffle(order)
    return None


def filled_up(what: Spaced, layout: Layout, at_random: random.Random) -> Layout:
    """With smaller pieces beside those that are laid: the largest first, or nearly."""
    least = min(what.kinds[kind].area for kind, _ in layout)
    smaller = [kind for kind in what.each if what.kinds[kind].area < least]
    shaken = at_random.choice(SHAKEN)
    weights = {
        kind: what.kinds[kind].area * at_random.uniform(1 - shaken, 1 + shaken)
        for kind in dict.fromkeys(smaller)
    }
    order = sorted(smaller, key=lambda kind: -weights[kind])
    if what.nesting:
        return beside_nested(what, layout, order, MERITS[0])
    return _beside(what, layout, order, FITS[0])
