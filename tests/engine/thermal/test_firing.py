"""Whole firings: against practice, against a calculation by hand, and against a simulation in small steps."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import Body, Phase, Piece, Policy, Recipe, Shape, governing_piece, plan_firing
from studios.thermal.limits import heating_limit, load_limits
from studios.thermal.policy import ceiling_c_per_h
from tests.engine.thermal import by_steps
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, glass, piece, pieces

VESSEL = piece(Shape.VESSEL, 10.0, expansion_per_k=96e-7, annealing_c=510, strain_c=480)


@pytest.mark.parametrize(("tau_h", "least_h", "most_h"), [(4, 12, 16), (6, 17, 22)])
def test_the_annealer_opens_the_morning_after_the_last_piece(
    tau_h: float, least_h: float, most_h: float
) -> None:
    """Common practice: hold 510 °C, closed vessel, wall 10 mm, α 96e-7, ambient 22 °C, door 50 °C."""
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body(tau_h=tau_h, ambient_c=22, door_c=50))

    assert least_h <= plan.tail_min / 60 <= most_h


@pytest.mark.parametrize(("ambient_c", "hours"), [(22, 15.1), (35, 20.1), (38, 23.7)])
def test_the_room_decides_how_long_the_night_is(ambient_c: float, hours: float) -> None:
    """Derived: τ 4 h, a 10 mm vessel, last piece in to 40 °C."""
    plan = plan_firing(
        recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body(tau_h=4, ambient_c=ambient_c, door_c=40)
    )

    assert plan.tail_min / 60 == pytest.approx(hours, abs=0.1)


@pytest.mark.parametrize("tau_h", [2.5, 2.75, 3.0])
def test_a_fused_tile_in_a_small_kiln_takes_about_16_hours(tau_h: float) -> None:
    """Common practice: 6 mm, door closed to door open, about 16 h."""
    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body(tau_h=tau_h, ambient_c=25))

    assert 14 <= plan.tail_min / 60 <= 18
    assert plan.heat_up_min == 0


def test_a_fused_tile_in_a_big_brick_kiln_takes_20_to_24_hours() -> None:
    """Common practice."""
    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[piece()], body=body(tau_h=4.5))

    assert 20 <= plan.tail_min / 60 <= 24


def test_an_anneal_worked_out_by_hand() -> None:
    """10 mm at 10 min/mm soaks 100 min; the ceiling by 1/d is 61 °C/h, so 30 K take 29.5 min;
    from 480 to 50 °C in a room of 22 at τ 4 h takes 240·ln(458/28) = 670.7 min. Empty, it heats from 22 to
    510 toward 1100 °C in 240·ln(1078/590) min.
    """
    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body(tau_h=4, ambient_c=22, door_c=50))

    soak, annealing, cooling = plan.tail.phase_spans()
    assert (soak.phase, soak.ends_min) == (Phase.SOAK, 100)
    assert annealing.phase is Phase.ANNEALING
    assert annealing.ends_min == pytest.approx(129.508, abs=1e-3)
    assert cooling.ends_min == pytest.approx(129.508 + 240 * math.log(458 / 28), abs=1e-3)
    assert plan.tail_min == 801
    assert plan.heat_up_min == math.ceil(240 * math.log(1078 / 590))
    assert plan.hold_c == 510
    # At 61 °C/h: 0.7 MPa · 61/80.7, the rate that would keep 0.7.
    assert plan.kept_stress_mpa == pytest.approx(0.529, abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(pieces(), bodies(), st.sampled_from(Recipe), st.booleans())
def test_the_curve_is_what_a_simulated_controller_makes_of_the_program(
    drawn: Piece, kiln: Body, recipe: Recipe, ceilings: bool
) -> None:
    policy = Policy() if ceilings else NO_CEILINGS

    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy)

    simulated = by_steps.program_min(kiln, kiln.ambient_c, plan.segments)
    assert plan.heat_up.duration_min + plan.tail.duration_min == pytest.approx(simulated, abs=1)


def test_an_annealer_still_warm_is_ready_sooner() -> None:
    cold = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body())
    warm = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body(), start_c=300)
    hot = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL], body=body(), start_c=520)

    assert cold.heat_up_min > warm.heat_up_min > hot.heat_up_min
    # One that is hotter than its hold has to come down to it first.
    assert hot.heat_up.pieces[0].phase is Phase.COOLING
    assert cold.tail == warm.tail == hot.tail


@pytest.mark.parametrize(
    ("thickness_mm", "policy", "kiln", "annealing", "cooling"),
    [
        (6.0, Policy(), body(), "studio ceiling", "equipment"),
        (12.0, NO_CEILINGS, body(), "kept stress", "equipment"),
        (12.0, NO_CEILINGS, body(tau_h=0.5), "kept stress", "passing stress"),
        (6.0, NO_CEILINGS, body(tau_h=6), "equipment", "equipment"),
    ],
    ids=["thin glass", "ideal slab", "fast fibre kiln", "slow brick annealer"],
)
def test_each_stage_says_which_rule_governed(
    thickness_mm: float, policy: Policy, kiln: Body, annealing: str, cooling: str
) -> None:
    plan = plan_firing(
        recipe=Recipe.ANNEAL, pieces=[piece(thickness_mm=thickness_mm)], body=kiln, policy=policy
    )

    by_phase = {segment.phase: segment.governed_by for segment in plan.segments}
    assert by_phase[Phase.ANNEALING] == annealing
    assert by_phase[Phase.COOLING] == cooling
    assert by_phase[Phase.HEAT_UP] == "equipment"


def test_heating_says_which_rule_governed() -> None:
    def first_ramp(kiln: Body, thickness_mm: float, policy: Policy) -> tuple[str, float]:
        plan = plan_firing(
            recipe=Recipe.SLUMP, pieces=[piece(thickness_mm=thickness_mm)], body=kiln, policy=policy
        )
        return plan.segments[0].governed_by, round(plan.segments[0].rate_c_per_h or 0, 2)

    assert first_ramp(body(), 6, Policy()) == ("studio ceiling", 220)
    assert first_ramp(body(ramp_limit_c_per_h=150), 6, Policy()) == ("equipment", 150)
    # 7 MPa in the middle of 30 mm on a shelf: (12/30)² of the 598 °C/h of 12 mm, 95.68, keyed in as 95.
    assert heating_limit(piece(thickness_mm=30), NO_CEILINGS).rate_c_per_h == pytest.approx(95.68, abs=0.05)
    assert first_ramp(body(), 30, NO_CEILINGS) == ("passing stress", 95)


@pytest.mark.parametrize(
    ("thickness_mm", "heating", "cooling"),
    [(3, 440, 170), (6, 220, 85), (8, 165, 70), (12, 110, 55), (24, 55, 27.5)],
)
def test_studio_ceilings_go_by_one_over_thickness(
    thickness_mm: float, heating: float, cooling: float
) -> None:
    """Common practice at 6 mm (220 and 85 °C/h) and 12 mm (110 and 55 °C/h); between and beyond by 1/d."""
    policy = Policy()

    assert ceiling_c_per_h(policy.heating_ceilings, thickness_mm) == pytest.approx(heating)
    assert ceiling_c_per_h(policy.cooling_ceilings, thickness_mm) == pytest.approx(cooling)
    assert ceiling_c_per_h(None, thickness_mm) is None


@pytest.mark.parametrize(("floor", "soak_min", "rule"), [(10.0, 60, "studio floor"), (0.0, 18, "relaxation")])
def test_a_soak_is_never_shorter_than_the_studio_or_the_glass_needs(
    floor: float, soak_min: int, rule: str
) -> None:
    """6 mm on a shelf: evens out in ln(100)·4·(6 mm)²/(π²·4.6e-7 m²/s) = 146 s, relaxes in 15 min. One hour
    for each 6 mm is common practice.
    """
    plan = plan_firing(
        recipe=Recipe.ANNEAL, pieces=[piece()], body=body(), policy=Policy(soak_floor_min_per_mm=floor)
    )

    soak = next(segment for segment in plan.segments if segment.phase is Phase.SOAK)
    assert (soak.hold_min, soak.hold_governed_by) == (soak_min, rule)


def test_stress_relaxes_in_15_minutes_at_the_annealing_point_and_4_hours_at_the_strain_point() -> None:
    """Textbook gloss (Shand; Varshneya), from memory."""
    clear = glass(annealing_c=510, strain_c=470)

    assert clear.relaxation_min(510) == pytest.approx(15)
    assert clear.relaxation_min(470) == pytest.approx(240)
    assert clear.relaxation_min(490) == pytest.approx(60)


def test_glass_is_heated_gently_until_its_coldest_part_has_passed_the_annealing_point() -> None:
    """6 mm at 220 °C/h: the underside stays R·L²/(2κ) = 2.4 K behind; keyed in as the next whole degree."""
    plan = plan_firing(recipe=Recipe.SLUMP, pieces=[piece()], body=body(tau_h=1))

    gentle, hot = plan.segments[:2]
    assert load_limits([piece()], Policy(), 510).brittle_until_c == pytest.approx(512.4, abs=0.05)
    assert gentle.target_c == 513
    assert (gentle.rate_c_per_h, hot.rate_c_per_h, hot.target_c) == (220, 330, 650)


def test_thin_glass_is_not_heated_faster_brittle_than_hot() -> None:
    plan = plan_firing(recipe=Recipe.SLUMP, pieces=[piece(thickness_mm=2)], body=body(tau_h=1))

    assert plan.segments[0].rate_c_per_h == 330


@pytest.mark.parametrize(
    ("recipe", "stops"),
    [
        (Recipe.FULL_FUSE, [(650, 30), (800, 10)]),
        (Recipe.TACK_FUSE, [(650, 30), (745, 10)]),
        (Recipe.FIRE_POLISH, [(680, 10)]),
        (Recipe.KILN_CAST, [(675, 60), (830, 120)]),
        (Recipe.SLUMP, [(650, 10)]),
    ],
)
def test_what_each_recipe_holds(recipe: Recipe, stops: list[tuple[float, float]]) -> None:
    """Common practice: full fuse 790-816, tack fuse 730-760, slump 620-680 °C; 30 min at 650 for bubbles."""
    plan = plan_firing(recipe=recipe, pieces=[piece()], body=body())

    held = [(each.target_c, each.hold_min) for each in plan.segments if each.hold_phase is Phase.HOLDING]
    assert [stop for stop in held if stop[1]] == stops
    assert max(each.from_c for each in plan.tail.pieces) == stops[-1][0]


def test_the_governing_piece_is_found_not_assumed() -> None:
    policy = Policy(heating_ceilings=None, cooling_ceilings=None, soak_floor_min_per_mm=0)
    shelf = piece(Shape.PLATE_ON_SHELF, 18.0)
    thicker_but_free = piece(Shape.PLATE_FREE, 24.0)
    ball = piece(Shape.SPHERE, 30.0)
    load = [thicker_but_free, shelf, ball]

    found = plan_firing(recipe=Recipe.ANNEAL, pieces=load, body=body(), policy=policy).governing

    assert found == shelf
    alone = {
        each: plan_firing(recipe=Recipe.ANNEAL, pieces=[each], body=body(), policy=policy).tail_min
        for each in load
    }
    assert alone[found] == max(alone.values())


@given(st.lists(pieces(), min_size=2, max_size=4), bodies(), st.sampled_from(Recipe))
def test_a_shared_firing_is_gentle_enough_for_every_piece(
    load: list[Piece], kiln: Body, recipe: Recipe
) -> None:
    shared = plan_firing(recipe=recipe, pieces=load, body=kiln)

    alone = [plan_firing(recipe=recipe, pieces=[each], body=kiln).tail.duration_min for each in load]
    assert shared.tail.duration_min >= max(alone) - 1e-6
    assert shared.kept_stress_mpa <= 0.7 + 1e-9
    assert shared.governing == governing_piece(load, kiln, Policy())


def test_glasses_a_little_apart_share_at_the_governing_annealing_point() -> None:
    """The stiffer one relaxes more slowly 4 K below its own annealing point, so the soak waits for it."""
    policy = Policy(soak_floor_min_per_mm=0)
    thick = piece(Shape.VESSEL, 12.0, annealing_c=508, strain_c=473)
    stiffer = piece(Shape.VESSEL, 5.0, annealing_c=512, strain_c=477, name="other")

    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[stiffer, thick], body=body(), policy=policy)

    assert plan.governing == thick
    assert plan.hold_c == 508
    assert plan.tail.phase_spans()[0].ends_min >= 15 * 16 ** (4 / 35)


def test_slow_cooling_ends_at_the_lowest_strain_point_of_the_load() -> None:
    softer_below = piece(Shape.VESSEL, 5.0, strain_c=465, name="softer below")

    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[VESSEL, softer_below], body=body())

    assert plan.governing == VESSEL
    assert [each.to_c for each in plan.tail.pieces if each.phase is Phase.ANNEALING] == [465]


def test_a_body_too_slow_for_the_program_leaves_less_stress() -> None:
    """From 510 °C in a room of 22 a τ of 10 h falls at 48.8 °C/h at most; 59.8 keeps 0.7 MPa in 12 mm."""
    plan = plan_firing(
        recipe=Recipe.ANNEAL, pieces=[piece(thickness_mm=12)], body=body(tau_h=10), policy=NO_CEILINGS
    )

    assert plan.kept_stress_mpa == pytest.approx(0.7 * 48.8 / 59.8, abs=1e-3)
