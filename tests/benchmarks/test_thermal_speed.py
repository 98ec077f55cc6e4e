"""How fast a firing is planned. `make bench` measures; in the suite each runs once and must be right.

The last one is the yardstick: a plain loop, against which the others are told in the same run.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from studios.thermal import Body, FiringPlan, Moments, Piece, Recipe, Shape, family, plan_firing, reheat_min
from studios.thermal.motion import reheat_limits

KW_PRICE = 0.31
FIRINGS = 10_000
KILN = Body(tau_h=2.75, tau_low_h=4.0, ceiling_c=1100.0, power_kw=4.0, ambient_c=25.0)
TILE = Piece(glass=family("fusing-90").glass, shape=Shape.PLATE_ON_SHELF, thickness_mm=6.0)
RECIPES = tuple(Recipe)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a studio asks of a firing: when, for how long, and what it costs."""

    hours: float
    price: float
    moments: Moments


def told(plan: FiringPlan) -> Told:
    return Told(hours=plan.curve.duration_min / 60, price=plan.energy_kwh * KW_PRICE, moments=plan.moments())


def fired(kiln: Body = KILN, tile: Piece = TILE, recipe: Recipe = Recipe.FULL_FUSE) -> Told:
    return told(plan_firing(recipe=recipe, pieces=[tile], body=kiln))


def all_different(count: int) -> Sequence[tuple[Body, Piece, Recipe]]:
    """No two alike, so that nothing can be remembered from one to the next."""
    return [
        (
            Body(tau_h=1 + number * 5e-4, ceiling_c=1200.0, power_kw=4.0, ambient_c=25.0),
            Piece(glass=TILE.glass, shape=TILE.shape, thickness_mm=3.0 + number * 1e-3),
            RECIPES[number % len(RECIPES)],
        )
        for number in range(count)
    ]


def test_one_firing(benchmark: BenchmarkFixture) -> None:
    """A full program, its curve, its moments and its energy."""
    found = benchmark(fired)

    assert 15 < found.hours < 25
    assert found.moments.may_open_min == pytest.approx(found.hours * 60)
    assert found.price == pytest.approx(plan_firing(
        recipe=Recipe.FULL_FUSE, pieces=[TILE], body=KILN
    ).energy_kwh * KW_PRICE)  # fmt: skip


def test_ten_thousand_firings(benchmark: BenchmarkFixture) -> None:
    """Priced and timed, one after another."""
    asked = all_different(FIRINGS)

    found = benchmark.pedantic(lambda: [fired(*each) for each in asked], rounds=3)

    assert len(found) == FIRINGS
    fuses = [each for each, (_, _, recipe) in zip(found, asked, strict=True) if recipe is Recipe.FULL_FUSE]
    assert [each.hours for each in fuses] == sorted(each.hours for each in fuses)
    assert all(each.price > 0 for each in found)


def test_a_controller_with_few_segments(benchmark: BenchmarkFixture) -> None:
    """The best of all mergings of a casting, eight stages into five segments."""
    block = Piece(glass=TILE.glass, shape=TILE.shape, thickness_mm=40.0)
    quick = Body(tau_h=0.5, ceiling_c=1200.0, power_kw=9.0, ambient_c=25.0)

    def fitted() -> FiringPlan:
        return plan_firing(recipe=Recipe.KILN_CAST, pieces=[block], body=quick, most_segments=5)

    plan = benchmark(fitted)

    assert len(plan.segments) == 5
    many = plan_firing(recipe=Recipe.KILN_CAST, pieces=[block], body=quick)
    assert len(many.segments) > 5
    assert plan.curve.duration_min > many.curve.duration_min


GLORY_HOLE = Body(tau_h=0.5, ceiling_c=1300.0, power_kw=60.0, ambient_c=30.0)


def test_a_reheat_never_asked_before(benchmark: BenchmarkFixture) -> None:
    """The table of what each minute of heat bridges, made afresh."""

    def lit_min() -> int:
        reheat_limits.cache_clear()
        return reheat_min(GLORY_HOLE, gap_min=240, working_c=1150)

    assert benchmark(lit_min) == 65


def test_a_reheat_asked_again(benchmark: BenchmarkFixture) -> None:
    reheat_min(GLORY_HOLE, gap_min=240, working_c=1150)

    lit_min = benchmark(lambda: reheat_min(GLORY_HOLE, gap_min=60, working_c=1150))

    assert 0 < lit_min < 60


def test_yardstick_a_plain_loop_of_exponentials(benchmark: BenchmarkFixture) -> None:
    """10⁵ calls of math.exp, so that the others can be told without the machine."""

    def loop() -> float:
        total = 0.0
        for number in range(100_000):
            total += math.exp(-number / 100_000)
        return total

    assert benchmark(loop) == pytest.approx(100_000 * (1 - 1 / math.e), rel=1e-4)
