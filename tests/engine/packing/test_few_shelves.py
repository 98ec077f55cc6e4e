"""As few shelves as can be: beside bounds on a hundred sets each, and beside trying everything on few."""

from __future__ import annotations

import random
from math import ceil

import pytest

from scheduling.engine.packing import Footprint, Packing, Shelf
from scheduling.engine.packing.pack import pack
from tests.engine.packing.exhaustive import Sides, fewest, ruled_piece, ruled_shelf
from tests.engine.packing.shelves import a_shelf, some_pieces

SETS = 100


def packed(pieces: list[Footprint], shelf: Shelf) -> Packing:
    packing = pack(pieces, shelf)
    assert isinstance(packing, Packing)
    return packing


def area_bound(pieces: list[Footprint], shelf: Shelf) -> int:
    """Each piece with its spacing, over what lies within the margin with as much more."""
    spacing = shelf.spacing_mm
    taken = sum((piece.length_mm + spacing) * (piece.width_mm + spacing) for piece in pieces)
    length, width = shelf.usable_mm
    return ceil(taken / ((length + spacing) * (width + spacing)))


def test_dishes_and_tiles_take_one_shelf_more_than_their_area_at_most() -> None:
    """Sides of 12 to 30 % of the shelf's: wanted is 90 sets of a hundred."""
    at_random = random.Random("dishes and tiles")
    more = []

    for _ in range(SETS):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.12, most=0.30, up_to=60)
        more.append(packed(pieces, shelf).shelves - area_bound(pieces, shelf))

    assert min(more) >= 0
    assert sum(one <= 1 for one in more) >= 90


def test_pieces_of_any_size_take_one_shelf_more_than_the_bound_at_most() -> None:
    at_random = random.Random("any size")
    gaps = []

    for _ in range(SETS):
        shelf = a_shelf(at_random)
        gaps.append(packed(some_pieces(at_random, shelf, least=0.05, most=1.0, up_to=60), shelf).gap)

    assert min(gaps) >= 0
    assert max(gaps) <= 1


@pytest.mark.parametrize(
    ("rooms", "sides", "count"),
    [((5, 8), (2, 8), (4, 12)), ((7, 9), (3, 5), (8, 12)), ((6, 8), (2, 5), (6, 10))],
    ids=["any", "two to four on a shelf", "small and large"],
)
def test_few_pieces_take_the_fewest_shelves_there_can_be(rooms: Sides, sides: Sides, count: Sides) -> None:
    at_random = random.Random(5)

    for _ in range(20):
        room = (at_random.randint(*rooms), at_random.randint(*rooms))
        pieces = [
            (min(room[0], at_random.randint(*sides)), min(room[1], at_random.randint(*sides)))
            for _ in range(at_random.randint(*count))
        ]
        packing = packed([ruled_piece(*piece) for piece in pieces], ruled_shelf(*room))

        least = fewest(pieces, room)
        assert packing.shelves == least
        assert packing.bound <= least


@pytest.mark.parametrize(
    ("pieces", "room", "shelves"),
    [
        ([(3, 2)] * 4 + [(1, 1)], (5, 5), 1),  # four around one, as in a pinwheel
        ([(3, 3)] * 3, (5, 5), 3),  # no two together
        ([(3, 3), (2, 5), (3, 2)], (5, 5), 1),
        ([(2, 4)] * 2, (4, 4), 1),
        ([(2, 4)] * 3, (4, 5), 2),  # the area would do for more than one, and not for three
    ],
)
def test_known_cases(pieces: list[Sides], room: Sides, shelves: int) -> None:
    packing = packed([ruled_piece(*piece) for piece in pieces], ruled_shelf(*room))

    assert packing.shelves == packing.bound == shelves == fewest(pieces, room)
