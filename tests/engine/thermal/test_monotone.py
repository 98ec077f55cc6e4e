"""Nobody would doubt it: more glass, less surface, more brick or a warmer room never shorten a night."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Body, Piece, Recipe, Shape, cool_down_curve, heat_up_curve, plan_firing
from tests.engine.thermal.samples import bodies, pieces

HARDLY = 1e-6  # minutes
more = st.floats(1.0, 2.5)  # from the drawn expansions and thicknesses: all plausible
recipes = st.sampled_from(Recipe)


def hours_of(recipe: Recipe, load: Piece, kiln: Body) -> float:
    plan = plan_firing(recipe=recipe, pieces=[load], body=kiln)
    return plan.heat_up.duration_min + plan.tail.duration_min


@given(pieces(), bodies(), recipes, more)
def test_thicker_is_never_shorter(load: Piece, kiln: Body, recipe: Recipe, factor: float) -> None:
    thicker = replace(load, thickness_mm=load.thickness_mm * factor)

    assert hours_of(recipe, thicker, kiln) >= hours_of(recipe, load, kiln) - HARDLY


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
