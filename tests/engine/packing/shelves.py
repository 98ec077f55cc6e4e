"""Sets of pieces made up at random, and a judge of how they stand that knows shapes alone."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from itertools import combinations

from shapely import Point, Polygon, box

from scheduling.engine.packing import Footprint, Packing, Placed, Shelf

BARE = Shelf(length_mm=1000, width_mm=1000, margin_mm=0, spacing_mm=0)
EXACT_MM = 1e-9  # as far as distances are exact
QUARTER = 64  # a circle is judged as a polygon of 256 corners


def rounds(count: int, diameter_mm: int) -> list[Footprint]:
    """So many alike."""
    return [Footprint(length_mm=diameter_mm, width_mm=diameter_mm, round=True)] * count


def a_shelf(at_random: random.Random) -> Shelf:
    """From a small test kiln to a shelf that two people lift."""
    return Shelf(
        length_mm=at_random.randint(300, 700),
        width_mm=at_random.randint(300, 700),
        margin_mm=at_random.choice((0, 5, 10, 15)),
        spacing_mm=at_random.choice((0, 3, 6, 10)),
    )


def some_pieces(
    at_random: random.Random, shelf: Shelf, *, least: float, most: float, up_to: int, share: float = 0.0
) -> list[Footprint]:
    """One or more, with sides between such shares of what lies within the margin; so many of them round."""
    length, width = shelf.usable_mm
    pieces = []
    for _ in range(at_random.randint(1, up_to)):
        if at_random.random() < share:
            diameter = max(1, int(min(length, width) * at_random.uniform(least, most)))
            pieces.append(Footprint(length_mm=diameter, width_mm=diameter, round=True))
        else:
            sides = [max(1, int(side * at_random.uniform(least, most))) for side in (length, width)]
            pieces.append(Footprint(length_mm=sides[0], width_mm=sides[1]))
    return pieces


def shape(piece: Footprint, at: Placed) -> Polygon:
    """The glass itself, where it stands."""
    length, width = piece.sides(turned=at.turned)
    if piece.round:
        return Point(at.x_mm + length / 2, at.y_mm + length / 2).buffer(length / 2, quad_segs=QUARTER)
    return box(at.x_mm, at.y_mm, at.x_mm + length, at.y_mm + width)


def faults(packing: Packing, pieces: Sequence[Footprint], shelf: Shelf) -> list[str]:
    """What is wrong with how pieces stand: nothing, if it is well laid."""
    wrong = []
    if sorted(each.piece for each in packing.placed) != list(range(len(pieces))):
        wrong.append("not each piece once")
    if {each.shelf for each in packing.placed} != set(range(packing.shelves)):
        wrong.append("an empty shelf, or one that is not counted")
    by_shelf: dict[int, list[Polygon]] = defaultdict(list)
    for each in packing.placed:
        by_shelf[each.shelf].append(shape(pieces[each.piece], each))
    for shapes in by_shelf.values():
        wrong += standing_faults(shapes, shelf)
    return wrong


def standing_faults(shapes: Sequence[Polygon], shelf: Shelf) -> list[str]:
    """What is wrong on one shelf."""
    margin = shelf.margin_mm
    within = box(margin, margin, shelf.length_mm - margin, shelf.width_mm - margin)
    wrong = ["over the margin" for each in shapes if not within.covers(each)]
    for one, other in combinations(shapes, 2):
        if one.intersection(other).area > 0:
            wrong.append("two overlap")
        if one.distance(other) < shelf.spacing_mm - EXACT_MM:
            wrong.append(f"{one.distance(other):.2f} mm apart")
    return wrong
