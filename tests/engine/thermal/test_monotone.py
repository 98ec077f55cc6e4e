"""Nobody would doubt it: more glass, less surface, more brick or a warmer room never shorten a night."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from studios.thermal import (
    Body,
    Curve,
    Piece,
    Policy,
    Recipe,
    Shape,
    cool_down_curve,
    heat_up_curve,
    plan_firing,
)
from studios.thermal.errors import TooFewSegments
from tests.engine.thermal.samples import NO_CEILINGS, bodies, piece, pieces, recipes, thicknesses_mm

HARDLY = 1e-6  # minutes
more = st.floats(1.0, 2.5)  # from the drawn expansions and thicknesses: all plausible


controllers = st.none() | st.integers(3, 8)


def hours_of(
    recipe: Recipe, load: Piece, kiln: Body, most: int | None = None, policy: Policy = NO_CEILINGS
) -> float:
    plan = plan_firing(recipe=recipe, pieces=[load], body=kiln, most_segments=most, policy=policy)
    assert plan.heat_up.duration_min + plan.tail.duration_min == pytest.approx(plan.curve.duration_min)
    return plan.curve.duration_min


def hours_if_it_fits(recipe: Recipe, load: Piece, kiln: Body, most: int | None) -> float | None:
    try:
        return hours_of(recipe, load, kiln, most)
    except TooFewSegments:
        return None


def never_shorter(recipe: Recipe, harder: Piece, easier: Piece, kiln: Body, most: int | None) -> None:
    """What needs more care takes at least as long, and at least as many segments."""
    easy, hard = (hours_if_it_fits(recipe, load, kiln, most) for load in (easier, harder))
    assume(hard is not None)
    assert hard is not None
    assert easy is not None
    assert hard >= easy - HARDLY


@given(pieces(), bodies(), recipes, more)
def test_thicker_is_never_shorter(load: Piece, kiln: Body, recipe: Recipe, factor: float) -> None:
    thicker = replace(load, thickness_mm=load.thickness_mm * factor)

    for policy in (Policy(), NO_CEILINGS):
        thin, thick = (hours_of(recipe, each, kiln, policy=policy) for each in (load, thicker))
        assert thick >= thin - HARDLY


@given(bodies(), recipes, thicknesses_mm, thicknesses_mm, more)
def test_a_thicker_foot_is_never_shorter(
    kiln: Body, recipe: Recipe, wall_mm: float, foot_mm: float, factor: float
) -> None:
    vessel = piece(Shape.VESSEL, wall_mm)
    footed, thicker = (replace(vessel, foot_mm=foot_mm * times) for times in (1, factor))

    hours = [hours_of(recipe, each, kiln) for each in (vessel, footed, thicker)]
    assert hours[0] <= hours[1] + HARDLY
    assert hours[1] <= hours[2] + HARDLY


@settings(max_examples=200, deadline=None)
@given(pieces(), bodies(), recipes, controllers, more, more)
def test_a_controller_with_few_segments_is_no_way_around_it(
    load: Piece, kiln: Body, recipe: Recipe, most: int | None, factor: float, expansive: float
) -> None:
    glass = replace(load.glass, expansion_per_k=load.glass.expansion_per_k * expansive)
    harder = replace(load, glass=glass, thickness_mm=load.thickness_mm * factor)

    never_shorter(recipe, harder, load, kiln, most)


@given(pieces(), bodies(), recipes, controllers)
def test_one_faced_is_no_quicker_by_a_simpler_controller(
    load: Piece, kiln: Body, recipe: Recipe, most: int | None
) -> None:
    free, shelf = (
        replace(load, shape=shape, foot_mm=None) for shape in (Shape.PLATE_FREE, Shape.PLATE_ON_SHELF)
    )

    never_shorter(recipe, shelf, free, kiln, most)


@given(pieces(), bodies(), st.floats(20, 510), st.floats(20, 510))
def test_an_annealer_already_warmer_is_ready_no_later(
    load: Piece, kiln: Body, one_c: float, other_c: float
) -> None:
    def ready_min(start_c: float) -> float:
        plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[load], body=kiln, start_c=start_c)
        return plan.heat_up.duration_min

    cooler_c, warmer_c = sorted((one_c, other_c))
    assert ready_min(warmer_c) <= ready_min(cooler_c) + HARDLY


def parts(curve: Curve) -> tuple[float, float]:
    """(minutes until the hottest, minutes from there on)."""
    hottest = max(each.to_c for each in curve.pieces)
    reached = next(each.ends_min for each in curve.pieces if each.to_c == hottest)
    return reached, curve.duration_min - reached


@given(pieces(), bodies(ambient=st.floats(10, 30)), recipes, st.floats(0, 15))
def test_in_a_warmer_room_no_firing_heats_longer_nor_cools_shorter(
    load: Piece, kiln: Body, recipe: Recipe, warmer_k: float
) -> None:
    """Door at 60 °C in both rooms."""
    warm = replace(kiln, ambient_c=kiln.ambient_c + warmer_k)
    (heats, cools), (heats_warm, cools_warm) = (
        parts(plan_firing(recipe=recipe, pieces=[load], body=each, policy=NO_CEILINGS).curve)
        for each in (kiln, warm)
    )

    assert heats_warm <= heats + HARDLY
    assert cools_warm >= cools - HARDLY


@given(pieces(), bodies(), recipes, more)
def test_more_expansive_is_never_shorter(load: Piece, kiln: Body, recipe: Recipe, factor: float) -> None:
    expansive = replace(load.glass, expansion_per_k=load.glass.expansion_per_k * factor)

    assert hours_of(recipe, replace(load, glass=expansive), kiln) >= hours_of(recipe, load, kiln) - HARDLY


@given(pieces(), bodies(), recipes)
def test_one_faced_is_never_shorter(load: Piece, kiln: Body, recipe: Recipe) -> None:
    free, shelf = (
        replace(load, shape=shape, foot_mm=None) for shape in (Shape.PLATE_FREE, Shape.PLATE_ON_SHELF)
    )

    assert hours_of(recipe, shelf, kiln) >= hours_of(recipe, free, kiln) - HARDLY


@given(pieces(), bodies(), recipes, more, more)
def test_more_brick_is_never_shorter(
    load: Piece, kiln: Body, recipe: Recipe, factor: float, low_factor: float
) -> None:
    low = None if kiln.tau_low_h is None else kiln.tau_low_h * low_factor
    slower = replace(kiln, tau_h=kiln.tau_h * factor, tau_low_h=low)

    assert hours_of(recipe, load, slower) >= hours_of(recipe, load, kiln) - HARDLY


@given(bodies(ambient=st.floats(10, 30)), st.floats(0, 15))
def test_a_warmer_room_never_shortens_cooling_nor_lengthens_heating(kiln: Body, warmer_k: float) -> None:
    warm = replace(kiln, ambient_c=kiln.ambient_c + warmer_k)

    def cooling(body: Body) -> float:
        return cool_down_curve(body, from_c=500, to_c=60).duration_min

    def heating(body: Body) -> float:
        return heat_up_curve(body, from_c=body.ambient_c, to_c=500).duration_min

    assert cooling(warm) >= cooling(kiln) - HARDLY
    assert heating(warm) <= heating(kiln) + HARDLY


@given(pieces(), bodies(ambient=st.floats(10, 30)), st.floats(0, 15))
def test_a_warmer_room_never_shortens_the_tail_of_an_anneal(load: Piece, kiln: Body, warmer_k: float) -> None:
    warm = replace(kiln, ambient_c=kiln.ambient_c + warmer_k)
    cold_plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[load], body=kiln)
    warm_plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[load], body=warm)

    assert warm_plan.tail.duration_min >= cold_plan.tail.duration_min - HARDLY
    assert warm_plan.heat_up.duration_min <= cold_plan.heat_up.duration_min + HARDLY
