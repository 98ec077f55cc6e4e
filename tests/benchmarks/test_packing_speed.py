"""How long it takes to lay pieces on shelves. In the suite each runs once, untimed, and is checked."""

from __future__ import annotations

import random
import time
from collections.abc import Sequence

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from scheduling.engine.packing import Footprint, Packing, Shelf, TooLarge
from scheduling.engine.packing.pack import pack

pytestmark = pytest.mark.benchmark(timer=time.process_time)
SHELF = Shelf(length_mm=600, width_mm=450, margin_mm=10, spacing_mm=6)


def sixty(least: float, most: float) -> list[Footprint]:
    """Sixty pieces with sides between such shares of the shelf's, no two alike."""
    at_random = random.Random("sixty")
    length, width = SHELF.usable_mm
    return [
        Footprint(
            length_mm=int(length * at_random.uniform(least, most)),
            width_mm=int(width * at_random.uniform(least, most)),
        )
        for _ in range(60)
    ]


def gap(packing: Packing | TooLarge) -> int:
    assert isinstance(packing, Packing)
    return packing.gap


def lay(benchmark: BenchmarkFixture, pieces: Sequence[Footprint]) -> Packing | TooLarge:
    return benchmark.pedantic(pack, args=(pieces, SHELF), rounds=3)


def test_sixty_dishes_and_tiles_on_shelves(benchmark: BenchmarkFixture) -> None:
    """Sides of 12 to 30 %: many on a shelf."""
    assert gap(lay(benchmark, sixty(0.12, 0.30))) <= 1


def test_sixty_pieces_of_any_size_on_shelves(benchmark: BenchmarkFixture) -> None:
    assert gap(lay(benchmark, sixty(0.05, 1.0))) <= 1


def test_sixty_pieces_of_half_a_shelf_each_way_on_shelves(benchmark: BenchmarkFixture) -> None:
    """Sides of 30 to 70 %: one to five on a shelf, which is hardest."""
    assert gap(lay(benchmark, sixty(0.3, 0.7))) <= 1


def test_squares_and_rounds_of_a_fair_on_shelves(benchmark: BenchmarkFixture) -> None:
    """28 square dishes and 12 round ones of three sizes, many alike."""
    squares = [Footprint(length_mm=side, width_mm=side) for side in [120] * 12 + [150] * 10 + [200] * 6]
    rounds = [
        Footprint(length_mm=side, width_mm=side, round=True) for side in [120] * 4 + [150] * 4 + [200] * 4
    ]

    assert gap(lay(benchmark, squares + rounds)) <= 1
