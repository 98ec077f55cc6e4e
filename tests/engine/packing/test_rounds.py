"""Rounds stand closer than the squares around them, and what is said to be impossible of them is."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from functools import cache
from itertools import combinations
from math import ceil, floor, pi, sqrt

import numpy as np
import pytest
from shapely import Point

from scheduling.engine.packing import Footprint, Packing, Placed, Shelf, fits_beside
from scheduling.engine.packing.bounds import WHOLE, best, weights
from scheduling.engine.packing.cells import cell_weights
from scheduling.engine.packing.loads import every_load
from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.pushing import pushed
from scheduling.engine.packing.spaced import Spaced, spaced
from tests.engine.packing.shelves import BARE, a_shelf, faults, rounds, shape, some_pieces, standing_faults

# The largest diameter of so many equal circles in a square of side 1, some by geometry, others as found and
# proven: H. Melissen, Packing and covering with circles (1997), and E. Specht's list of the best known
# packings of equal circles in the unit square. All from memory.
KNOWN = {
    2: 2 - sqrt(2),
    3: 0.508666,
    4: 0.5,
    5: 0.414213,
    6: 0.375361,
    7: 0.348915,
    8: 0.341081,
    9: 1 / 3,
    10: 0.296408,
}


def packed(pieces: list[Footprint], shelf: Shelf) -> Packing:
    packing = pack(pieces, shelf)
    assert isinstance(packing, Packing)
    return packing


@pytest.mark.parametrize("count", KNOWN)
def test_equal_rounds_in_a_square_fit_as_is_known(count: int) -> None:
    packing = packed(rounds(count, floor(985 * KNOWN[count])), BARE)

    assert packing.shelves == packing.bound == 1
    assert faults(packing, packing.pieces, BARE) == []


@pytest.mark.parametrize("count", KNOWN)
def test_equal_rounds_in_a_square_are_never_said_to_fit_where_they_do_not(count: int) -> None:
    packing = packed(rounds(count, ceil(1002 * KNOWN[count])), BARE)

    assert packing.shelves == 2


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_few_large_rounds_too_many_are_proven_to_be_too_many(count: int) -> None:
    packing = packed(rounds(count, ceil(1010 * KNOWN[count])), BARE)

    assert packing.shelves == packing.bound == 2


@pytest.mark.parametrize("count", KNOWN)
def test_no_bound_goes_against_what_is_known(count: int) -> None:
    """Here are rounds that do stand on the shelf, as large as can be."""
    what = spaced(rounds(count, floor(999 * KNOWN[count])), BARE)

    assert best(what).shelves == 1
    assert weights(what).max() * count <= WHOLE


def test_rounds_weigh_more_than_their_area() -> None:
    """Of a plane, equal circles cover pi / sqrt(12) at most, in cells of six sides.

    A. Thue, Über die dichteste Zusammenstellung von kongruenten Kreisen in einer Ebene (1910); from memory.
    """
    what = spaced(rounds(60, 50), BARE)

    share = pi / 4 * 50**2 / 1000**2

    assert cell_weights(what, WHOLE).max() / WHOLE == pytest.approx(share / (pi / sqrt(12)), rel=0.001)


def kinds_of(what: Spaced) -> dict[int, int]:
    """The kind of each piece."""
    return {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}


@cache
def loads_laid(count: int, share: float) -> list[tuple[list[Footprint], Shelf, list[list[int]]]]:
    """Sets of pieces, and which stood together on one shelf; another library's geometry agrees."""
    at_random = random.Random(f"laid {share}")
    found = []
    for _ in range(count):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.2, most=0.9, up_to=25, share=share)
        packing = packed(pieces, shelf)
        assert faults(packing, pieces, shelf) == []
        together = defaultdict(list)
        for each in packing.placed:
            together[each.shelf].append(each.piece)
        found.append((pieces, shelf, list(together.values())))
    return found


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_no_shelf_that_was_laid_carries_more_than_its_weight(share: float) -> None:
    for pieces, shelf, loads in loads_laid(15, share):
        what = spaced(pieces, shelf)
        kind_of = kinds_of(what)

        weighed = weights(what)

        for load in loads:
            assert weighed[:, [kind_of[piece] for piece in load]].sum(axis=1).max() <= WHOLE


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_what_was_laid_is_among_the_loads_that_might_be(share: float) -> None:
    """What of it is large, and no four of it are refused."""
    looked = 0
    for pieces, shelf, loads in loads_laid(15, share):
        what = spaced(pieces, shelf)
        kind_of = kinds_of(what)
        might = every_load(what, most=20_000)
        assert might is not None
        known = {might.load(row) for row in range(len(might.rows))}
        place = {number: n for n, number in enumerate(might.numbers)}
        for load in loads:
            kinds = sorted(kind_of[piece] for piece in load if kind_of[piece] in place)
            assert tuple(kinds) in known
            fours = np.array(list(combinations(sorted(place[kind] for kind in kinds), 4)), dtype=int)
            looked += might.fitting.ask_fours(fours.reshape(-1, 4), most=1_000)
            assert not might.fitting.refused.any()

    assert looked > 10


def test_what_is_pushed_apart_stands_clear() -> None:
    """Five in a square are tight: one in the middle, four in the corners."""
    what = spaced(rounds(5, 400), BARE)

    laid = pushed(what, what.each)

    assert laid is not None
    placed = [Point((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) for _, box in laid]
    assert min(one.distance(other) for one, other in combinations(placed, 2)) >= 400
    assert all(200 <= at <= 800 for point in placed for at in (point.x, point.y))


def test_rounds_and_rectangles_are_pushed_apart() -> None:
    pieces = [*rounds(2, 450), Footprint(length_mm=450, width_mm=300), Footprint(length_mm=200, width_mm=400)]
    what = spaced(pieces, BARE)

    laid = pushed(what, what.each)

    assert laid is not None
    shapes = [
        shape(
            pieces[what.kinds[kind].pieces[0]],
            Placed(piece=0, shelf=0, x_mm=box[0], y_mm=box[1], turned=turned),
        )
        for kind, box in laid
        for turned in [box[2] - box[0] != pieces[what.kinds[kind].pieces[0]].length_mm]
    ]
    assert standing_faults(shapes, BARE) == []


def test_what_does_not_fit_is_not_pushed_together() -> None:
    what = spaced(rounds(5, 420), BARE)

    assert pushed(what, what.each) is None


def test_a_round_joins_closer_than_its_square() -> None:
    """In the corner opposite another; a square of its size would not do there."""
    (plate,) = rounds(1, 580)
    standing = [(plate, Placed(piece=0, shelf=0, x_mm=0, y_mm=0, turned=False))]

    (joined,) = fits_beside([plate], BARE, standing) or ()

    shapes = [shape(plate, at) for at in (standing[0][1], joined)]
    assert standing_faults(shapes, BARE) == []
    assert fits_beside([Footprint(length_mm=580, width_mm=580)], BARE, standing) is None
    assert fits_beside(rounds(2, 580), BARE, standing) is None


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_small_rounds_take_one_shelf_more_than_their_area_at_most(share: float) -> None:
    """Sides of 12 to 30 % of the shelf's, spacing counted: wanted is 90 sets of a hundred."""
    at_random = random.Random(f"small rounds {share}")
    more = []

    for _ in range(100):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.12, most=0.30, up_to=60, share=share)
        more.append(packed(pieces, shelf).shelves - area_bound(pieces, shelf))

    assert min(more) >= 0
    assert sum(one <= 1 for one in more) >= 90


def area_bound(pieces: list[Footprint], shelf: Shelf) -> int:
    spacing = shelf.spacing_mm
    taken = sum(
        (piece.length_mm + spacing) * (piece.width_mm + spacing) * (pi / 4 if piece.round else 1)
        for piece in pieces
    )
    length, width = shelf.usable_mm
    return ceil(taken / ((length + spacing) * (width + spacing)))


def gaps(name: str, *, share: float, sets: int) -> Counter[int]:
    """How many shelves fewer might do, of sets of pieces of any size."""
    at_random = random.Random(name)
    found = Counter[int]()
    for _ in range(sets):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.05, most=1.0, up_to=60, share=share)
        packing = packed(pieces, shelf)
        assert faults(packing, pieces, shelf) == []
        found[packing.gap] += 1
    return found


@pytest.mark.parametrize(
    ("name", "share"), [("rounds of any size", 1.0), ("rounds and rectangles of any size", 0.5)]
)
def test_pieces_of_any_size_take_one_shelf_more_than_the_bound_at_most(name: str, share: float) -> None:
    found = gaps(name, share=share, sets=100)

    assert min(found) >= 0
    assert max(found) <= 1
