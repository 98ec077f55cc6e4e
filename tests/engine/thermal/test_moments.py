"""The moments people wait for."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Body, Phase, Piece, Recipe, plan_firing
from tests.engine.thermal.samples import bodies, body, piece, pieces


@given(pieces(), bodies(), st.sampled_from(Recipe))
def test_they_come_in_order(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln)

    named = list(plan.moments(touch_c=45.0).named())

    assert [name for name, _ in named] == [
        "at hold", "soak ends", "below the strain point", "may be opened", "may be touched",
    ]  # fmt: skip
    minutes = [minute for _, minute in named]
    assert minutes == sorted(minutes)
    assert minutes[3] == plan.curve.duration_min


def test_an_annealer_worked_out_by_hand() -> None:
    """Heats to 510 in 165·ln(1078/590) = 99.5 min, held 180, soaks 60, 85 °C/h to 475; 40 °C at the end is
    10 K below its door: 165·ln(28/18) = 72.9 min more.
    """
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[piece()], body=body(), working_min=180)

    moments = plan.moments()

    ready = 165 * math.log(1078 / 590)
    assert moments.at_hold_min == pytest.approx(ready)
    assert moments.soak_ends_min == pytest.approx(ready + 240)
    assert moments.below_strain_min == pytest.approx(ready + 240 + 35 / 85 * 60)
    assert moments.may_open_min == pytest.approx(plan.heat_up.duration_min + 180 + plan.tail.duration_min)
    assert moments.may_touch_min == pytest.approx(moments.may_open_min + 165 * math.log(28 / 18))


def test_a_kiln_is_at_hold_when_its_soak_begins() -> None:
    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body())

    soak = next(span for span in plan.curve.phase_spans() if span.phase is Phase.SOAK)
    moments = plan.moments()
    assert moments.at_hold_min == pytest.approx(soak.starts_min)
    assert moments.soak_ends_min == pytest.approx(soak.ends_min)
    # On the way up it passed the strain point too; what counts is the last time.
    assert plan.curve.temperature_at(moments.below_strain_min) == pytest.approx(475)
    assert moments.below_strain_min > moments.soak_ends_min


def test_in_a_hot_room_nothing_is_ever_cool_to_the_touch() -> None:
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[piece()], body=body(ambient_c=41))

    assert plan.moments().may_touch_min is None
    assert [name for name, _ in plan.moments().named()][-1] == "may be opened"
    assert plan.moments(touch_c=43).may_touch_min is not None


def test_a_door_opened_cool_is_touched_sooner() -> None:
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[piece()], body=body(door_c=35))

    moments = plan.moments()
    assert moments.may_touch_min is not None
    assert moments.may_touch_min < moments.may_open_min
    assert plan.curve.temperature_at(moments.may_touch_min) == pytest.approx(40)
