"""Closed forms against numerical solutions that share no formula with them, over random cases."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import Body, Glass, Piece, Policy, Recipe, Shape, plan_firing, stress
from studios.thermal.errors import TooFewSegments
from studios.thermal.limits import annealing_limit, heating_limit, passing_limit
from studios.thermal.stress import CYLINDER, SLAB, SPHERE
from tests.engine.thermal import numerics
from tests.engine.thermal.samples import NO_CEILINGS, bodies, glass, pieces

MANY = settings(max_examples=200, deadline=None)
FORMS = {"plate": SLAB, "cylinder": CYLINDER, "sphere": SPHERE}
KIND = {
    Shape.PLATE_ON_SHELF: "plate",
    Shape.PLATE_FREE: "plate",
    Shape.VESSEL: "plate",
    Shape.CYLINDER: "cylinder",
    Shape.SPHERE: "sphere",
    Shape.BEAD: "cylinder",
}
CONTROLLERS = st.none() | st.integers(4, 8)

glasses = st.builds(
    glass,
    kappa_m2_per_s=st.floats(3e-7, 9e-7),
    expansion_per_k=st.floats(5e-7, 110e-7),
    youngs_pa=st.floats(50e9, 80e9),
    poisson=st.floats(0.15, 0.28),
)


@MANY
@given(st.sampled_from(sorted(FORMS)), glasses, st.floats(1e-3, 0.1), st.floats(5.0, 400.0))
def test_stress_of_a_steady_fall_agrees_with_conduction(
    kind: str, made_of: Glass, path_m: float, rate: float
) -> None:
    middle_k, mean_k = numerics.steady(kind, path_m, made_of, rate)
    middle_mpa, surface_mpa = numerics.middle_and_surface_mpa(kind, made_of, middle_k, mean_k)

    form = FORMS[kind]
    assert stress.centre_lag_k(form, made_of, path_m, rate) == pytest.approx(middle_k, rel=5e-3)
    assert stress.centre_stress_pa(form, made_of, path_m, rate) / 1e6 == pytest.approx(middle_mpa, rel=5e-3)
    assert stress.surface_stress_pa(form, made_of, path_m, rate) / 1e6 == pytest.approx(surface_mpa, rel=5e-3)


@MANY
@given(pieces(), glasses, st.floats(0.2, 3.0), st.floats(3.0, 20.0))
def test_the_permitted_rates_make_the_permitted_stress_in_conducted_heat(
    drawn: Piece, made_of: Glass, kept_mpa: float, passing_mpa: float
) -> None:
    """However it lies and whatever it is: its own thickness is followed through, one face or all sides."""
    load = replace(drawn, glass=made_of)
    policy = replace(NO_CEILINGS, kept_mpa=kept_mpa, passing_mpa=passing_mpa)
    thickest_m = max(load.thickness_mm, load.foot_mm or 0.0) / 1000
    path_m = thickest_m if load.shape in {Shape.PLATE_ON_SHELF, Shape.VESSEL} else thickest_m / 2

    def made_mpa(rate_c_per_h: float) -> tuple[float, float]:
        kind = KIND[load.shape]
        return numerics.middle_and_surface_mpa(
            kind, made_of, *numerics.steady(kind, path_m, made_of, rate_c_per_h)
        )

    assert made_mpa(annealing_limit(load, policy).rate_c_per_h)[0] == pytest.approx(kept_mpa, rel=5e-3)
    assert made_mpa(passing_limit(load, policy).rate_c_per_h)[1] == pytest.approx(passing_mpa, rel=5e-3)
    assert made_mpa(heating_limit(load, policy).rate_c_per_h)[0] == pytest.approx(passing_mpa, rel=5e-3)


@MANY
@given(pieces(), bodies(), st.sampled_from(Recipe), st.booleans(), CONTROLLERS)
def test_the_hours_of_a_program_agree_with_an_integrated_heat_balance(
    drawn: Piece, kiln: Body, recipe: Recipe, ceilings: bool, most: int | None
) -> None:
    """What is keyed in, in equipment of one range or two; a controller with few segments too."""
    policy = Policy() if ceilings else NO_CEILINGS
    try:
        plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy, most_segments=most)
    except TooFewSegments:
        plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy)

    integrated = numerics.program_min(kiln, kiln.ambient_c, plan.segments)
    assert plan.curve.duration_min == pytest.approx(integrated, abs=1)


@settings(max_examples=60, deadline=None)
@given(pieces(), bodies(), st.sampled_from([each for each in Recipe if each is not Recipe.ANNEAL]))
def test_the_real_gradient_of_a_whole_firing_stays_within_what_is_permitted(
    drawn: Piece, kiln: Body, recipe: Recipe
) -> None:
    """The surface follows the kiln: the middle is never pulled harder than the heating permits, and the
    gradient with which the glass sets, which it keeps as stress for ever, is within what may be kept.
    """
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=NO_CEILINGS)
    brittle_min = next(at for at, c in plan.curve.minutes() if c >= drawn.glass.annealing_c)
    sets_min = plan.moments().below_strain_min
    found = {
        end_min: numerics.driven(
            KIND[drawn.shape],
            drawn.half_or_full_path_m,
            drawn.glass,
            lambda second: plan.curve.temperature_at(second / 60),
            np.linspace(0.0, end_min * 60, 600),
        )
        for end_min in (brittle_min, sets_min)
    }
    heating, setting = (found[each] for each in (brittle_min, sets_min))
    share = 2 / 3 if drawn.shape is Shape.SPHERE else 1.0
    pulled_mpa = drawn.glass.stress_modulus_pa * share * (heating.mean_k - heating.middle_k).max() / 1e6
    kept_mpa = drawn.glass.stress_modulus_pa * share * (setting.middle_k - setting.mean_k)[-1] / 1e6

    permitted_mpa = 3.5 if recipe is Recipe.BATCH_ANNEAL else 7.0
    assert pulled_mpa <= permitted_mpa * 1.01
    assert kept_mpa <= 0.7 * 1.01
