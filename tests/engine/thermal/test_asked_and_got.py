"""The program asked and the curve got, and the minute from which a temperature is not passed again."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Body, Curve, Phase, Piece, Recipe, plan_firing
from studios.thermal.curve import CurvePiece
from studios.thermal.errors import EmptyCurve
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, piece, pieces, recipes

TILE = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body())


def curve(*way: tuple[float, float]) -> Curve:
    """Straight lines through (minute, °C)."""
    return Curve(
        pieces=tuple(
            CurvePiece(phase=Phase.HOLDING, starts_min=start, ends_min=end, from_c=from_c, to_c=to_c)
            for (start, from_c), (end, to_c) in pairwise(way)
        )
    )


def test_where_the_kiln_cannot_follow_is_said() -> None:
    """Down at 299·4 °C/h from 425 a kiln of τ 2.75 h cannot: it comes hours late to the door."""
    (*_, last) = TILE.lags

    assert (last.phase, last.departs_c, last.target_c) == (Phase.COOLING, 425, 50)
    # By itself 165·ln(403/28) min, asked 375 K at 1196 °C/h.
    assert last.late_min == pytest.approx(165 * 2.66680 - 375 / 1196 * 60, abs=0.1)
    assert TILE.asked.duration_min == pytest.approx(
        TILE.curve.duration_min - sum(lag.late_min for lag in TILE.lags)
    )


def test_strong_equipment_is_never_late() -> None:
    strong = body(tau_h=0.05, ceiling_c=1300.0)
    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece(thickness_mm=30)], body=strong)

    assert plan.lags == ()
    assert plan.asked == plan.curve


@given(pieces(), bodies(), recipes)
def test_what_is_got_is_never_ahead_of_what_is_asked(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=NO_CEILINGS)

    for leg in (*plan.before, *plan.after):
        assert leg.got_min >= leg.asked_min - 1e-6
    assert all(lag.late_min >= -1e-6 for lag in plan.lags)
    assert plan.curve.pieces[-1].to_c == plan.asked.pieces[-1].to_c == kiln.opening_c


@given(pieces(), bodies(), recipes)
def test_what_is_asked_is_drawn_from_where_the_tail_begins(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln)

    minutes = [minute for minute, _ in plan.asked_tail]
    assert minutes == sorted(minutes)
    assert minutes[0] == 0
    assert plan.asked_tail[0][1] == pytest.approx(plan.tail.temperature_at(0))
    assert plan.asked_tail[-1][1] == pytest.approx(kiln.opening_c)


@pytest.mark.parametrize(
    ("way", "falls_to_500"),
    [
        ([(0, 20), (60, 800), (120, 200)], 90),
        ([(0, 800), (30, 400), (60, 700), (120, 100)], 80),  # the second fall is the one that lasts
        ([(0, 400), (60, 100)], 0),
        ([(0, 20), (60, 800)], 60),  # it never does: its end
        ([(0, 800), (60, 500)], 60),
        ([(0, 500), (60, 500), (90, 400)], 0),
        ([(0, 500), (60, 501), (90, 400)], 60 + 30 / 101),
    ],
    ids=["once", "twice", "always", "never", "just", "at it and below", "a little above"],
)
def test_from_when_on_it_stays_below(way: list[tuple[float, float]], falls_to_500: float) -> None:
    assert curve(*way).falls_to(500) == pytest.approx(falls_to_500)


@given(pieces(), bodies(), recipes, st.floats(70, 500))
def test_from_then_on_it_is_below_and_just_before_it_is_not(
    drawn: Piece, kiln: Body, recipe: Recipe, temperature_c: float
) -> None:
    whole = plan_firing(recipe=recipe, pieces=[drawn], body=kiln).curve

    then = whole.falls_to(temperature_c)

    assert whole.temperature_at(then) == pytest.approx(temperature_c, abs=1e-6)
    assert whole.temperature_at(then - 0.01) > temperature_c - 1e-6
    rest = (then + share * (whole.duration_min - then) / 50 for share in range(51))
    assert all(whole.temperature_at(minute) <= temperature_c + 1e-6 for minute in rest)


def test_minute_by_minute_to_the_end() -> None:
    every = list(TILE.curve.minutes())

    assert [minute for minute, _ in every] == list(range(TILE.curve.whole_min + 1))
    assert [each[1] for each in (every[0], every[-1])] == [22, 50]
    assert every[60][1] == TILE.curve.temperature_at(60)


def test_a_curve_of_no_length_has_no_minutes() -> None:
    assert list(Curve().minutes()) == []
    with pytest.raises(EmptyCurve):
        Curve().falls_to(500)
