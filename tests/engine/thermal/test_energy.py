"""Energy against a sum over small steps of what is lost and what is stored."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import (
    Body,
    Curve,
    Piece,
    Recipe,
    cool_down_curve,
    energy_kwh,
    heat_up_curve,
    holding_kw,
    plan_firing,
)
from tests.engine.thermal.samples import bodies, body, pieces


def test_full_power_all_the_way_up() -> None:
    kiln = body(power_kw=6)
    curve = heat_up_curve(kiln, from_c=22, to_c=800)

    assert energy_kwh(curve, kiln) == pytest.approx(6 * curve.duration_min / 60)


def test_nothing_on_the_way_down_or_at_rest() -> None:
    kiln = body(tau_low_h=4.0)

    assert energy_kwh(cool_down_curve(kiln, from_c=800, to_c=50), kiln) == 0
    assert energy_kwh(Curve(), kiln) == 0


def test_what_it_takes_to_hold() -> None:
    """P·(T − Ta)/(T∞ − Ta): 8 kW at 500 °C, room 20, ceiling 1220: 3.2 kW."""
    kiln = body(power_kw=8, ambient_c=20, ceiling_c=1220)

    assert holding_kw(kiln, 500) == pytest.approx(3.2)
    assert holding_kw(kiln, 1220) == pytest.approx(8)


@settings(max_examples=40, deadline=None)
@given(pieces(), bodies(), st.sampled_from(Recipe))
def test_energy_of_a_firing_agrees_with_small_steps(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    curve = plan_firing(recipe=recipe, pieces=[drawn], body=kiln).tail

    assert energy_kwh(curve, kiln) == pytest.approx(fed_kwh(curve, kiln), rel=5e-3, abs=1e-3)


def fed_kwh(curve: Curve, kiln: Body, parts: int = 200) -> float:
    """Each piece in equal steps: loss by the mean temperature of the step, and the heat taken up."""
    total = 0.0
    for piece in curve.pieces:
        step_min = piece.duration_min / parts
        for number in range(parts):
            begins = piece.starts_min + number * step_min
            low, high = piece.temperature_at(begins), piece.temperature_at(begins + step_min)
            lower_range = high < low <= kiln.split_c + 1e-6 and kiln.tau_low_h is not None
            tau_h = kiln.tau_low_h if lower_range and kiln.tau_low_h else kiln.tau_h
            kelvin_h = ((low + high) / 2 - kiln.ambient_c) * step_min / 60 + tau_h * (high - low)
            total += kiln.power_kw / (kiln.ceiling_c - kiln.ambient_c) * kelvin_h
    return total
