"""A curve is exact by pieces, without a gap or a jump."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Body, Curve, Phase, Piece, Recipe, plan_firing
from studios.thermal.curve import CurvePiece, whole_minutes_up
from studios.thermal.errors import EmptyCurve
from tests.engine.thermal.samples import bodies, body, piece, pieces

TILE = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body())


@given(pieces(), bodies(), st.sampled_from(Recipe))
def test_pieces_join_without_gap_or_jump(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    curve = plan_firing(recipe=recipe, pieces=[drawn], body=kiln).tail

    assert curve.pieces[0].starts_min == 0
    for before, after in pairwise(curve.pieces):
        assert before.ends_min == after.starts_min
        assert before.to_c == after.from_c
    for each in curve.pieces:
        assert each.duration_min > 0
        assert each.temperature_at(each.starts_min) == pytest.approx(each.from_c)
        assert each.temperature_at(each.ends_min) == pytest.approx(each.to_c)


def test_a_line_and_an_exponential() -> None:
    line = CurvePiece(phase=Phase.ANNEALING, starts_min=10, ends_min=30, from_c=500, to_c=460)
    fall = CurvePiece(
        phase=Phase.COOLING, starts_min=0, ends_min=60, from_c=120, to_c=0, toward_c=20, tau_min=60
    )

    assert line.temperature_at(20) == pytest.approx(480)
    assert fall.temperature_at(60) == pytest.approx(20 + 100 / 2.718281828)


def test_the_temperature_before_and_after() -> None:
    assert TILE.tail.temperature_at(-5) == pytest.approx(22)
    assert TILE.tail.temperature_at(0) == pytest.approx(22)
    assert TILE.tail.temperature_at(TILE.tail.duration_min) == 50
    assert TILE.tail.temperature_at(1e6) == 50
    assert max(TILE.tail.temperature_at(minute) for minute in range(TILE.tail_min)) == pytest.approx(800)


def test_phases_in_the_order_a_technician_sees_them() -> None:
    spans = TILE.tail.phase_spans()

    assert [span.phase for span in spans] == [
        Phase.HEAT_UP,
        Phase.HOLDING,  # bubble squeeze
        Phase.HEAT_UP,
        Phase.HOLDING,  # full fuse
        Phase.COOLING,  # down to the annealing point
        Phase.SOAK,
        Phase.ANNEALING,
        Phase.COOLING,
    ]
    assert spans[0].starts_min == 0
    assert spans[-1].ends_min == TILE.tail.duration_min
    assert all(before.ends_min == after.starts_min for before, after in pairwise(spans))


@pytest.mark.parametrize(("minutes", "whole"), [(0, 0), (0.2, 1), (60, 60), (60 + 1e-9, 60), (60.01, 61)])
def test_ends_are_rounded_up(minutes: float, whole: int) -> None:
    assert whole_minutes_up(minutes) == whole


def test_a_curve_of_no_length() -> None:
    assert Curve().duration_min == 0
    assert Curve().whole_min == 0
    assert Curve().phase_spans() == ()
    with pytest.raises(EmptyCurve):
        Curve().temperature_at(0)
