"""What is planned is what is keyed in: the curve, the hours and the controller go by the same rates."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from studios.thermal import Body, FiringPlan, Phase, Piece, Policy, Recipe, Segment, plan_firing
from studios.thermal.errors import TooFewSegments
from studios.thermal.limits import load_limits
from studios.thermal.units import keyed_rate
from tests.engine.thermal import by_steps
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, piece, pieces, recipes

policies = st.sampled_from([Policy(), NO_CEILINGS])


def planned(drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy, most: int | None = None) -> FiringPlan:
    try:
        return plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy, most_segments=most)
    except TooFewSegments:
        return plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy)


def rated(plan: FiringPlan) -> list[tuple[Segment, float]]:
    return [(each, each.rate_c_per_h) for each in plan.segments if each.rate_c_per_h is not None]


@given(pieces(), bodies(), recipes, policies, st.none() | st.integers(3, 8))
def test_every_planned_rate_is_one_that_is_keyed_in(
    drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy, most: int | None
) -> None:
    for _, rate in rated(planned(drawn, kiln, recipe, policy, most)):
        assert keyed_rate(rate) == rate > 0


def test_an_annealer_is_brought_to_its_hold_at_a_rate_that_is_keyed_in() -> None:
    plan = planned(piece(), body(ramp_limit_c_per_h=133.7), Recipe.ANNEAL, Policy())

    assert plan.segments[0].rate_c_per_h == 133


@given(pieces(), bodies(), recipes, policies)
def test_no_planned_rate_is_far_below_its_limit(
    drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy
) -> None:
    """Less than one degree in ten is lost to the rounding, and nothing gained."""
    limits = load_limits([drawn], policy, 510, annealed=recipe is not Recipe.BATCH_ANNEAL)
    permitted = {
        Phase.ANNEALING: {limits.annealing.rate_c_per_h},
        Phase.COOLING: {limits.second.rate_c_per_h, limits.passing.rate_c_per_h},
    }

    for segment, rate in rated(planned(drawn, kiln, recipe, policy)):
        if segment.phase in permitted:
            assert any(0.9 * limit < rate <= limit + 1e-8 for limit in permitted[segment.phase])


@given(pieces(), bodies(), recipes, policies)
def test_the_hours_are_those_of_the_rates_keyed_in(
    drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy
) -> None:
    """What is asked takes exactly its degrees by its rate as keyed in, and the kiln is never ahead of it."""
    plan = planned(drawn, kiln, recipe, policy)

    at_c = kiln.ambient_c
    for leg in (*plan.before, *plan.after):
        segment, way_k = leg.segment, abs(leg.segment.target_c - at_c)
        if segment.rate_c_per_h is not None:
            way_min = way_k / keyed_rate(segment.rate_c_per_h) * 60
            assert leg.asked_min == pytest.approx(way_min + segment.hold_min)
            assert leg.got_min >= leg.asked_min - 1e-6
        at_c = segment.target_c


def test_a_slab_goes_through_the_annealing_range_at_59_and_not_at_59_8() -> None:
    """12 mm in a quick kiln, 510 to 475 °C, then 50 K at 119: 35/59 h and 50/119 h, on the curve itself."""
    plan = planned(piece(thickness_mm=12), body(tau_h=0.1), Recipe.ANNEAL, NO_CEILINGS)

    annealing = next(span for span in plan.tail.phase_spans() if span.phase is Phase.ANNEALING)
    assert annealing.ends_min - annealing.starts_min == pytest.approx(35 / 59 * 60)
    assert plan.tail.falls_to(425) - annealing.ends_min == pytest.approx(50 / 119 * 60)
    keyed = tuple(each for each in plan.segments if each.phase is not Phase.HEAT_UP)
    assert by_steps.program_min(body(tau_h=0.1), 510, keyed) == pytest.approx(plan.tail.duration_min, abs=1)


@given(pieces(), bodies(), st.sampled_from([each for each in Recipe if each is not Recipe.ANNEAL]), policies)
def test_brittle_glass_is_heated_gently_to_a_whole_degree_not_below_the_exact_one(
    drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy
) -> None:
    annealed = recipe is not Recipe.BATCH_ANNEAL
    exact_c = load_limits([drawn], policy, 510, annealed=annealed).brittle_until_c
    plan = planned(drawn, kiln, recipe, policy)

    first, second = plan.segments[:2]
    assume(second.phase is Phase.HEAT_UP and not first.hold_min)
    assert first.target_c == math.floor(first.target_c)
    assert exact_c <= first.target_c < exact_c + 1
