"""A program that ends before the last stages: from there on the heat is off and nothing is asked."""

from __future__ import annotations

import math

import pytest

from studios.thermal import Recipe, plan_firing, power
from tests.engine.thermal.samples import body, piece


def test_the_controller_switches_until_its_last_segment_and_nothing_is_late_after_it() -> None:
    """6 mm fused tile: four segments bring it to the strain point, and the body cools on by itself."""
    few = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body(), most_segments=4)
    many = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body())

    assert [segment.keyed for segment in few.segments][:4] == [True] * 4
    assert not any(segment.keyed for segment in few.segments[4:])
    assert few.switching_min == math.ceil(few.moments().below_strain_min)
    assert few.switching_min < many.switching_min
    assert {lag.phase.value for lag in few.lags} == {"heat-up"}
    assert {lag.phase.value for lag in many.lags} == {"heat-up", "cooling"}


def test_what_is_asked_ends_with_what_the_body_does_by_itself() -> None:
    few = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body(), most_segments=4)

    last_asked, last_got = few.asked.pieces[-1], few.curve.pieces[-1]
    assert last_asked.toward_c == last_got.toward_c == 22
    assert last_asked.duration_min == pytest.approx(last_got.duration_min)


def test_a_body_that_follows_again_is_still_fed() -> None:
    """Brick above 280 °C is slower than asked, fibre below it quicker: there the line is held."""
    hybrid = body(tau_h=5.5, tau_low_h=0.3, split_c=280.0)
    thick = piece(thickness_mm=22.0)

    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[thick], body=hybrid)

    fed_until = max(part.ends_min for part in power(plan.tail, hybrid) if max(part.from_kw, part.to_kw) > 0)
    behind = [
        part for part in plan.tail.pieces if part.toward_c == hybrid.ambient_c and part.starts_min < fed_until
    ]
    assert any(part.to_c == 280.0 for part in behind), "it lost time first"
    assert math.ceil(fed_until) <= plan.switching_min <= plan.tail_min
