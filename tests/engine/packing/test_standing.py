"""Glass stands within the margin, keeps its spacing and never overlaps: judged by another's geometry."""

from __future__ import annotations

import random

import pytest

from scheduling.engine.packing import Footprint, Packing, Placed, Shelf
from scheduling.engine.packing.pack import pack
from tests.engine.packing.shelves import a_shelf, faults, some_pieces

# 500 sets: of each share of rounds and each range of sides the same number.
SETS = 20
SIDES = ((0.05, 0.2), (0.12, 0.3), (0.2, 0.6), (0.4, 0.6), (0.05, 1.0))
SQUARE = Footprint(length_mm=100, width_mm=100)
SHELF = Shelf(length_mm=400, width_mm=300, margin_mm=10, spacing_mm=6)


@pytest.mark.parametrize("rounds", [0.0, 0.1, 0.5, 0.9, 1.0])
@pytest.mark.parametrize(("least", "most"), SIDES)
def test_random_sets_stand_as_they_should(least: float, most: float, rounds: float) -> None:
    at_random = random.Random(f"{least} {most} {rounds}")

    for _ in range(SETS):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=least, most=most, up_to=24, share=rounds)
        packing = pack(pieces, shelf, seconds=0.1)

        assert isinstance(packing, Packing)
        assert faults(packing, pieces, shelf) == []
        assert packing.bound <= packing.shelves


@pytest.mark.parametrize(
    ("x_mm", "y_mm", "wrong"),
    [
        (115, 10, ["5.00 mm apart"]),
        (110, 10, ["0.00 mm apart"]),
        (60, 10, ["two overlap", "0.00 mm apart"]),
        (291, 10, ["over the margin"]),
        (116, 10, []),
    ],
)
def test_the_judge_sees_what_is_wrong(x_mm: int, y_mm: int, wrong: list[str]) -> None:
    one = Placed(piece=0, shelf=0, x_mm=10, y_mm=10, turned=False)
    other = Placed(piece=1, shelf=0, x_mm=x_mm, y_mm=y_mm, turned=False)
    pieces = (SQUARE, SQUARE)

    packing = Packing(pieces=pieces, on=SHELF, placed=(one, other), shelves=1, bound=1, bound_by="area")

    assert faults(packing, pieces, SHELF) == wrong
