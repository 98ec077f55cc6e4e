"""A program that ends before the last stages: from there on the heat is off and nothing is asked."""

from __future__ import annotations

import math

import pytest

from studios.thermal import Recipe, plan_firing
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
