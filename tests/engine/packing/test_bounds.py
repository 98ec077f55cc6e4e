"""No bound is above what can be done: held against every load that fits on a small shelf."""

from __future__ import annotations

import random
from itertools import product
from math import sqrt

import pytest

from scheduling.engine.packing import Footprint, Packing, Shelf
from scheduling.engine.packing.bounds import WHOLE, by_area, by_functions, by_pairs, weights
from scheduling.engine.packing.exact import Unlaid, lay_on
from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.spaced import Spaced, exclude, spaced
from tests.engine.packing.exhaustive import Sides, fewest, fits, layable, ruled_piece, ruled_shelf

Case = tuple[list[Sides], Sides]


def cases(count: int) -> list[Case]:
    at_random = random.Random("bounds")
    found = []
    for _ in range(count):
        room = (at_random.randint(5, 8), at_random.randint(5, 8))
        sides = [
            (at_random.randint(2, min(room[0], 6)), at_random.randint(2, min(room[1], 6)))
            for _ in range(at_random.randint(4, 9))
        ]
        found.append((sides, room))
    return found


def ruled(pieces: list[Sides], room: Sides) -> Spaced:
    return spaced([ruled_piece(*piece) for piece in pieces], ruled_shelf(*room))


def kind_of(what: Spaced) -> dict[int, int]:
    return {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}


def test_no_simple_bound_is_above_the_fewest_shelves() -> None:
    for pieces, room in cases(60):
        what = ruled(pieces, room)

        least = fewest(pieces, room)

        assert by_area(what).shelves <= least
        assert by_pairs(what).shelves <= least
        assert by_functions(what).shelves <= least


def test_no_shelf_that_can_be_laid_carries_more_than_its_weight() -> None:
    for pieces, room in cases(40):
        what = ruled(pieces, room)
        kinds = kind_of(what)
        loads = layable(pieces, room)

        weighed = weights(what)
        for load in loads:
            assert weighed[:, [kinds[piece] for piece in load]].sum(axis=1).max() <= WHOLE


def test_pairs_exclude_each_other_exactly_where_they_do_not_fit_together() -> None:
    for pieces, room in cases(40):
        for one, other in product(pieces, repeat=2):
            what = ruled([one, other], room)
            kinds = kind_of(what)

            excluded = exclude(what.kinds[kinds[0]], what.kinds[kinds[1]], what.room)

            assert excluded == (not fits(tuple(sorted((one, other))), room))


def test_a_search_finds_the_fewest_shelves_and_no_fewer() -> None:
    for pieces, room in cases(15):
        what = ruled(pieces, room)
        least = fewest(pieces, room)

        assert isinstance(lay_on(what, least, work=2.0), list)
        if least > 1:
            assert lay_on(what, least - 1, work=2.0) is Unlaid.IMPOSSIBLE


@pytest.mark.parametrize(("diameter_mm", "together"), [(58, True), (59, False)])
def test_two_rounds_nest_in_opposite_corners(diameter_mm: int, *, together: bool) -> None:
    """In a square of side a there is room for two of at most a · (2 − √2) = 0.586 a, by geometry."""
    shelf = Shelf(length_mm=100, width_mm=100, margin_mm=0, spacing_mm=0)
    (kind,) = spaced([Footprint(length_mm=diameter_mm, width_mm=diameter_mm, round=True)] * 2, shelf).kinds

    excluded = exclude(kind, kind, (100, 100))

    assert (diameter_mm <= 100 * (2 - sqrt(2))) is together
    assert excluded is not together


def test_a_round_and_a_rectangle_exclude_each_other_only_if_no_corner_is_left() -> None:
    shelf = Shelf(length_mm=100, width_mm=100, margin_mm=0, spacing_mm=0)
    disc = Footprint(length_mm=80, width_mm=80, round=True)
    small, large = (
        spaced([disc, Footprint(length_mm=side, width_mm=side)], shelf).kinds for side in (31, 32)
    )

    # From the disc's centre, 60 mm from that corner each way, to the square's: (60 − a) · √2 against 40 mm.
    assert (60 - 31) * sqrt(2) > 40 > (60 - 32) * sqrt(2)
    assert not exclude(small[0], small[1], (100, 100))
    assert exclude(large[0], large[1], (100, 100))


def test_rounds_nest_in_rows() -> None:
    """Two rows of two, the second between the first: 250 by 186.7 mm hold four of 100 mm, by geometry."""
    shelf = Shelf(length_mm=250, width_mm=187, margin_mm=0, spacing_mm=0)

    packing = pack([Footprint(length_mm=100, width_mm=100, round=True)] * 4, shelf)

    assert isinstance(packing, Packing)
    assert packing.shelves == packing.bound == 1
