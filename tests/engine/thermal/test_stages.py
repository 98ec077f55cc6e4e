"""Cooling in three stages: through the annealing range, just below the strain point, and on to the door."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studios.thermal import Body, Phase, Piece, Policy, Recipe, Segment, plan_firing
from studios.thermal.limits import annealing_limit, load_limits, passing_limit
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, pieces
from tests.engine.thermal.samples import piece as plate

FAST = body(tau_h=0.5)


def falls(load: Piece, policy: Policy, kiln: Body = FAST) -> list[Segment]:
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[load], body=kiln, policy=policy)
    return [each for each in plan.segments if each.phase in {Phase.ANNEALING, Phase.COOLING}]


def test_three_stages_and_their_rules() -> None:
    """12 mm on a shelf: 59.8 °C/h to the strain point, twice that for 50 K, then 299 °C/h; keyed in whole."""
    slab = plate(thickness_mm=12.0)
    limits = load_limits([slab], NO_CEILINGS, 510)
    stages = falls(slab, NO_CEILINGS)

    assert annealing_limit(slab, NO_CEILINGS).rate_c_per_h == pytest.approx(59.8, abs=0.05)
    assert passing_limit(slab, NO_CEILINGS).rate_c_per_h == pytest.approx(299, abs=0.5)
    assert limits.annealing.rate_c_per_h == pytest.approx(59.8, abs=0.05)
    assert limits.second.rate_c_per_h == pytest.approx(2 * limits.annealing.rate_c_per_h)
    assert limits.passing.rate_c_per_h == pytest.approx(299, abs=0.5)

    assert [each.target_c for each in stages] == [475, 425, 50]
    assert [each.rate_c_per_h for each in stages] == [59, 119, 299]
    assert [each.governed_by for each in stages] == ["kept stress", "second stage", "passing stress"]


def test_the_second_stage_is_never_faster_than_the_passing_stress_permits() -> None:
    """2 MPa kept and 3 passing: twice the first rate would pull the surface at 8 MPa."""
    stages = falls(plate(thickness_mm=12.0), Policy(kept_mpa=2.0, passing_mpa=3.0, cooling_ceilings=None))

    assert stages[1].rate_c_per_h == stages[2].rate_c_per_h
    assert stages[1].governed_by == "passing stress"


@pytest.mark.parametrize(("kelvin", "times"), [(0.0, 2.0), (80.0, 4.0)])
def test_a_studio_sets_its_own_second_stage(kelvin: float, times: float) -> None:
    policy = Policy(cooling_ceilings=None, second_stage_k=kelvin, second_stage_times=times)

    slab = plate(thickness_mm=12.0)
    limits = load_limits([slab], policy, 510)

    _, *others = falls(slab, policy)
    if kelvin == 0:
        assert [each.target_c for each in others] == [50]
    else:
        assert [each.target_c for each in others] == [395, 50]
        assert limits.second.rate_c_per_h == pytest.approx(4 * limits.annealing.rate_c_per_h)
        assert others[0].rate_c_per_h == 239, "four times 59.8 is 239.3"


def test_equipment_too_slow_for_a_stage_governs_it() -> None:
    assert [each.governed_by for each in falls(plate(), NO_CEILINGS, body(tau_h=6))] == ["equipment"] * 3


def test_a_stage_ends_at_the_door() -> None:
    """A soft glass whose strain point lies 20 K above a hot door has no room for 50 K more."""
    soft = plate(annealing_c=150.0, strain_c=113.0, softening_c=300.0)

    assert [each.target_c for each in falls(soft, Policy(), body(door_c=93.0, tau_h=0.5))] == [113, 93]


@given(pieces(), bodies(), st.sampled_from(Recipe))
def test_each_stage_down_may_go_faster_than_the_one_before(drawn: Piece, kiln: Body, recipe: Recipe) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=NO_CEILINGS)

    after_soak = [leg.segment for leg in plan.after][-3:]
    rates = [float("inf") if each.rate_c_per_h is None else each.rate_c_per_h for each in after_soak]
    assert rates == sorted(rates)
    assert [each.target_c for each in after_soak] == [475, 425, 60]


def test_no_rate_is_asked_that_nobody_can_key_in() -> None:
    """1 mm may fall at 43,000 °C/h below its strain point; the kiln cannot, so it is left to itself."""
    last = falls(plate(thickness_mm=1.0), NO_CEILINGS)[-1]

    assert (last.rate_c_per_h, last.governed_by) == (None, "equipment")
