"""Average power against time, and how long a controller may switch its full draw."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import (
    Body,
    Curve,
    FiringPlan,
    Phase,
    Piece,
    Power,
    Recipe,
    energy_kwh,
    heat_up_curve,
    holding_kw,
    holding_kwh,
    plan_firing,
    power,
)
from studios.thermal.errors import TooFewSegments
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, piece, pieces, recipes

CONTROLLERS = st.none() | st.integers(3, 8)


def planned(drawn: Piece, kiln: Body, recipe: Recipe, most: int | None) -> FiringPlan:
    try:
        return plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=NO_CEILINGS, most_segments=most)
    except TooFewSegments:
        return planned(drawn, kiln, recipe, None)


def simpson_kwh(part: Power) -> float:
    middle_kw = (part.from_kw + part.to_kw) / 2
    return (part.from_kw + 4 * middle_kw + part.to_kw) / 6 * (part.ends_min - part.starts_min) / 60


@given(pieces(), bodies(), recipes)
def test_the_area_under_the_power_is_the_energy(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln)

    profile = power(plan.curve, kiln)

    assert sum(map(simpson_kwh, profile)) == pytest.approx(plan.energy_kwh)
    assert plan.energy_kwh == pytest.approx(energy_kwh(plan.curve, kiln))
    assert (profile[0].starts_min, profile[-1].ends_min) == (0, plan.curve.duration_min)


@given(pieces(), bodies(), recipes)
def test_the_power_lies_between_nothing_and_full(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    profile = power(plan_firing(recipe=recipe, pieces=[drawn], body=kiln).curve, kiln)

    for part in profile:
        assert min(part.from_kw, part.to_kw) >= 0
        assert max(part.from_kw, part.to_kw) <= kiln.power_kw * (1 + 1e-9)


def test_a_straight_ramp_takes_more_the_hotter_it_is() -> None:
    """8 kW, ceiling 1220, room 20, τ 2 h, 100 °C/h: at 20 °C 8·200/1200, at 520 °C 8·(500 + 200)/1200 kW."""
    kiln = body(power_kw=8, ambient_c=20, ceiling_c=1220, tau_h=2, ramp_limit_c_per_h=100)

    (ramp,) = power(heat_up_curve(kiln, from_c=20, to_c=520), kiln)

    assert ramp.from_kw == pytest.approx(8 * 200 / 1200)
    assert ramp.to_kw == pytest.approx(8 * 700 / 1200)


def test_nothing_takes_nothing() -> None:
    assert power(Curve(), body()) == ()


def test_holding_an_annealer_hot_all_day() -> None:
    """8 kW at 500 °C, room 20, ceiling 1220: 3.2 kW, so 76.8 kWh in 24 h."""
    kiln = body(power_kw=8, ambient_c=20, ceiling_c=1220)

    assert holding_kwh(kiln, 500, 24 * 60) == pytest.approx(76.8)
    assert holding_kwh(kiln, 500, 60) == pytest.approx(holding_kw(kiln, 500))
    assert holding_kwh(kiln, 20, 600) == 0


def test_working_hours_cost_what_holding_costs() -> None:
    kiln = body(power_kw=6)

    def cost_kwh(working_min: float) -> float:
        plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[piece()], body=kiln, working_min=working_min)
        return plan.energy_kwh

    assert cost_kwh(240) - cost_kwh(60) == pytest.approx(holding_kwh(kiln, 510, 180))


@settings(max_examples=200, deadline=None)
@given(pieces(), bodies(), recipes, CONTROLLERS)
def test_the_full_draw_lasts_as_long_as_anything_is_fed(
    drawn: Piece, kiln: Body, recipe: Recipe, most: int | None
) -> None:
    """Never shorter than the last minute in which the controller feeds the equipment, never past the door."""
    plan = planned(drawn, kiln, recipe, most)

    fed_until = max(part.ends_min for part in power(plan.tail, kiln) if max(part.from_kw, part.to_kw) > 1e-9)
    assert plan.switching_min >= fed_until - 1e-6
    assert plan.switching_min <= plan.tail_min


@given(pieces(), bodies(), recipes)
def test_the_draw_ends_with_the_program(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    """Up to the soak the controller waits for the kiln; from there on the program runs by the clock."""
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=NO_CEILINGS)

    soak_ends = max(each.ends_min for each in plan.tail.pieces if each.phase is Phase.SOAK)
    cooling = [leg.asked_min for leg in plan.after if leg.segment.target_c < plan.hold_c]
    assert plan.switching_min == pytest.approx(soak_ends + sum(cooling), abs=1)
