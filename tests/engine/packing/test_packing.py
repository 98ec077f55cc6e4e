"""What is asked, and what comes of it: no piece, too large a piece, bad numbers, the same answer twice."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from itertools import count
from math import pi
from typing import Any

import pytest

from scheduling.engine.packing import Footprint, Packing, Placed, Shelf, TooLarge, fits_beside
from scheduling.engine.packing.pack import pack
from scheduling.errors import InvalidInput
from tests.engine.packing.shelves import faults, shape, some_pieces, standing_faults

SHELF = Shelf(length_mm=420, width_mm=320, margin_mm=10, spacing_mm=6)
DISH = Footprint(length_mm=200, width_mm=130)
PLATE = Footprint(length_mm=150, width_mm=150, round=True)


def packed(*pieces: Footprint, shelf: Shelf = SHELF) -> Packing:
    packing = pack(pieces, shelf)
    assert isinstance(packing, Packing)
    return packing


def test_no_piece_takes_no_shelf() -> None:
    packing = packed()

    assert packing.placed == ()
    assert (packing.shelves, packing.bound, packing.gap) == (0, 0, 0)


def test_what_fits_on_no_shelf_is_named() -> None:
    found = pack(
        [DISH, replace(DISH, length_mm=401), PLATE, replace(DISH, width_mm=301, length_mm=301)], SHELF
    )

    assert found == TooLarge(pieces=(1, 3))


def test_what_fits_only_if_it_is_turned_is_turned() -> None:
    packing = packed(Footprint(length_mm=120, width_mm=400))

    assert packing.placed == (Placed(piece=0, shelf=0, x_mm=10, y_mm=10, turned=True),)


def test_what_fills_the_shelf_to_its_margin_fits() -> None:
    packing = packed(Footprint(length_mm=400, width_mm=300))

    assert packing.shelves == 1
    assert packing.fill(0) == 1.0


def test_fill_counts_the_glass_and_neither_spacing_nor_corners_of_a_round() -> None:
    packing = packed(DISH, PLATE)

    assert packing.shelves == 1
    assert packing.fill(0) == pytest.approx((200 * 130 + pi * 75**2) / (400 * 300))


def test_two_rounds_nest_in_opposite_corners_with_their_spacing() -> None:
    shelf = Shelf(length_mm=320, width_mm=320, margin_mm=10, spacing_mm=6)
    plate = Footprint(length_mm=172, width_mm=172, round=True)  # squares of 172 mm would take a shelf each

    packing = packed(plate, plate, shelf=shelf)

    assert packing.shelves == 1
    assert faults(packing, packing.pieces, shelf) == []


def test_alike_pieces_each_have_a_place_of_their_own() -> None:
    packing = packed(*[DISH] * 9, *[PLATE] * 4)

    assert faults(packing, packing.pieces, SHELF) == []
    assert packing.gap == 0


@pytest.mark.parametrize(
    "change",
    [{"length_mm": 0}, {"width_mm": -1}, {"length_mm": 100.5}, {"length_mm": True}],
)
def test_a_piece_is_measured_in_whole_millimetres(change: dict[str, Any]) -> None:
    with pytest.raises(InvalidInput) as refused:
        replace(DISH, **change)

    assert refused.value.field == next(iter(change))


def test_a_round_piece_has_one_diameter() -> None:
    with pytest.raises(InvalidInput):
        Footprint(length_mm=150, width_mm=140, round=True)


@pytest.mark.parametrize(
    "change",
    [{"length_mm": 0}, {"margin_mm": -1}, {"spacing_mm": -1}, {"margin_mm": 160}, {"width_mm": 20}],
)
def test_a_shelf_has_room_within_its_margin(change: dict[str, Any]) -> None:
    with pytest.raises(InvalidInput):
        replace(SHELF, **change)


def test_whoever_asks_may_stop_and_has_the_best_so_far() -> None:
    pieces = some_pieces(random.Random(3), SHELF, least=0.4, most=0.6, up_to=60)
    asked = count()

    packing = pack(pieces, SHELF, stop=lambda: next(asked) >= 2)

    assert isinstance(packing, Packing)
    assert next(asked) < 10
    assert faults(packing, pieces, SHELF) == []
    assert packing.bound <= packed(*pieces).bound <= packed(*pieces).shelves <= packing.shelves


def test_many_unlike_pieces_come_to_an_end() -> None:
    """Where more than one shelf might be spared, it is insisted on so often and no more."""
    at_random = random.Random("many")
    pieces = [
        Footprint(length_mm=at_random.randint(120, 280), width_mm=at_random.randint(90, 210))
        for _ in range(110)
    ]

    packing = packed(*pieces)

    assert faults(packing, pieces, SHELF) == []
    assert 0 <= packing.gap <= 3


def test_strips_and_dust_are_laid() -> None:
    """What leaves hardly any room beside it, and what takes hardly any."""
    strips = [
        (150, 5),
        (116, 5),
        (650, 1),
        (100, 1),
        (47, 2),
        (452, 1),
        (697, 1),
        (697, 1),
        (272, 5),
        (42, 1),
    ]
    strips += [(327, 2), (499, 1), (98, 5), (109, 5), (198, 2), (252, 5), (369, 3), (58, 4), (420, 5)]
    long = Shelf(length_mm=847, width_mm=5, margin_mm=0, spacing_mm=0)
    small = Shelf(length_mm=3, width_mm=3, margin_mm=0, spacing_mm=0)
    dust = [Footprint(length_mm=1, width_mm=1, round=True)] * 19

    for pieces, shelf in (
        ([Footprint(length_mm=length, width_mm=width) for length, width in strips], long),
        ([Footprint(length_mm=3, width_mm=3), *dust], small),
    ):
        packing = packed(*pieces, shelf=shelf)

        assert faults(packing, pieces, shelf) == []
        assert 0 <= packing.gap <= 1


def test_another_process_finds_the_same_answer() -> None:
    asked = (
        "import random\n"
        "from scheduling.engine.packing import Shelf\nfrom scheduling.engine.packing.pack import pack\n"
        "from tests.engine.packing.shelves import some_pieces\n"
        f"shelf = {SHELF!r}\n"
        "pieces = some_pieces(random.Random(8), shelf, least=0.3, most=0.7, up_to=60)\n"
        "print(pack(pieces, shelf))\n"
    )

    answers = {
        subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True).stdout
        for _ in range(2)
    }

    assert len(answers) == 1
    assert "Placed" in answers.pop()


def test_a_piece_joins_what_stands_on_a_shelf() -> None:
    standing = [
        (packing.pieces[each.piece], each) for packing in (packed(DISH, PLATE),) for each in packing.placed
    ]

    (joined,) = fits_beside([DISH], SHELF, standing, number=2) or ()

    assert (joined.piece, joined.shelf) == (0, 2)
    shapes = [shape(piece, at) for piece, at in [*standing, (DISH, joined)]]
    assert standing_faults(shapes, SHELF) == []


def test_what_does_not_fit_beside_does_not_join() -> None:
    standing = [(DISH, Placed(piece=0, shelf=0, x_mm=100, y_mm=80, turned=False))]

    assert fits_beside([DISH], SHELF, standing) is None
    assert fits_beside([replace(DISH, length_mm=500)], SHELF, []) is None
    assert fits_beside([], SHELF, standing) == ()


def test_pieces_join_only_all_together() -> None:
    half = Footprint(length_mm=197, width_mm=300)
    standing = [(half, Placed(piece=0, shelf=0, x_mm=10, y_mm=10, turned=False))]

    assert fits_beside([half], SHELF, standing) == (
        Placed(piece=0, shelf=0, x_mm=213, y_mm=10, turned=False),
    )
    assert fits_beside([half, PLATE], SHELF, standing) is None
