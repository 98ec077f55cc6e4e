from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Piece, Recipe, plan_firing, units
from tests.engine.thermal.samples import body, pieces, recipes

finite = st.floats(-1e4, 1e4)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"), [(-40, -40), (0, 32), (93, 199.4), (100, 212), (510, 950), (1150, 2102)]
)
def test_temperatures(celsius: float, fahrenheit: float) -> None:
    assert units.f_from_c(celsius) == pytest.approx(fahrenheit)
    assert units.c_from_f(fahrenheit) == pytest.approx(celsius)


def test_a_ramp_has_no_32_degrees_in_it() -> None:
    assert units.f_per_h_from_c_per_h(100) == pytest.approx(180)
    assert units.c_per_h_from_f_per_h(180) == pytest.approx(100)


def test_an_inch_is_25_4_mm() -> None:
    assert units.mm_from_in(0.25) == pytest.approx(6.35)
    assert units.in_from_mm(12.7) == pytest.approx(0.5)


@given(finite)
def test_units_go_round(value: float) -> None:
    assert units.c_from_f(units.f_from_c(value)) == pytest.approx(value, abs=1e-9)
    assert units.c_per_h_from_f_per_h(units.f_per_h_from_c_per_h(value)) == pytest.approx(value)
    assert units.mm_from_in(units.in_from_mm(value)) == pytest.approx(value)
    assert units.f_from_c(units.c_from_f(value)) == pytest.approx(value, abs=1e-9)
    assert units.f_per_h_from_c_per_h(units.c_per_h_from_f_per_h(value)) == pytest.approx(value)
    assert units.in_from_mm(units.mm_from_in(value)) == pytest.approx(value)


@given(pieces(), recipes)
def test_a_program_told_in_fahrenheit_and_inches_is_the_same_program(drawn: Piece, recipe: Recipe) -> None:
    """At its rates and over its degrees each ramp takes as long by either scale."""
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=body())

    at_c = plan.body.ambient_c
    for segment in plan.segments:
        if segment.rate_c_per_h is not None:
            way_f = units.f_from_c(segment.target_c) - units.f_from_c(at_c)
            hours = (segment.target_c - at_c) / segment.rate_c_per_h
            assert way_f / units.f_per_h_from_c_per_h(segment.rate_c_per_h) == pytest.approx(hours)
        at_c = segment.target_c
    assert units.mm_from_in(units.in_from_mm(drawn.thickness_mm)) == pytest.approx(drawn.thickness_mm)


@pytest.mark.parametrize(
    ("permitted", "keyed"),
    [(220, 220), (60.7, 60), (41.98, 41), (9.96, 9.9), (1.04, 1.0), (0.37, 0.37), (0.418, 0.41)],
)
def test_a_rate_is_keyed_in_no_faster_than_permitted(permitted: float, keyed: float) -> None:
    assert units.keyed_rate(permitted) == keyed


@given(st.floats(0.01, 9999))
def test_no_permitted_rate_is_keyed_in_as_none_or_as_more(permitted: float) -> None:
    assert 0 < units.keyed_rate(permitted) <= permitted + 1e-8


@pytest.mark.parametrize(
    ("asked", "way", "keyed"),
    [(964.4, 1, 965), (896.6, -1, 896), (959.4, 0, 959), (959.6, 0, 960), (950, 1, 950), (950, -1, 950)],
)
def test_a_target_that_is_passed_is_rounded_on_and_one_that_is_held_to_the_nearest(
    asked: float, way: int, keyed: float
) -> None:
    assert units.keyed_target(asked, way=way) == keyed


@given(pieces(), recipes)
def test_in_fahrenheit_the_slower_rate_of_a_cooling_lasts_at_least_as_long(
    drawn: Piece, recipe: Recipe
) -> None:
    """Each stage of cooling is the faster one; none begins above the temperature at which it may."""
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=body())

    for segment in plan.segments:
        asked_f = units.f_from_c(segment.target_c)
        assert asked_f - 1 < units.keyed_target(asked_f, way=-1) <= asked_f + 1e-6
