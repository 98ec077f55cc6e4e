"""Batch annealing from cold, and a studio's own temperatures for a recipe."""

from __future__ import annotations

import pytest

from studios.thermal import Body, Phase, Policy, Process, Recipe, Shape, plan_firing
from studios.thermal.errors import NoHold, OutOfRange, RecipeTooCool, SqueezeTooHot
from studios.thermal.limits import heating_limit
from tests.engine.thermal.samples import NO_CEILINGS, body, glass, piece

BEADS = piece(Shape.BEAD, 15.0)


def test_beads_never_annealed_carry_stress_already_so_half_is_left_for_the_heating() -> None:
    annealed = heating_limit(BEADS, NO_CEILINGS)
    from_the_blanket = heating_limit(BEADS, NO_CEILINGS, annealed=False)

    assert from_the_blanket.rate_c_per_h == pytest.approx(annealed.rate_c_per_h / 2)
    assert from_the_blanket.rule == annealed.rule == "passing stress"


def test_a_studio_knows_its_blanket() -> None:
    policy = Policy(heating_ceilings=None, unannealed_share=0.25)

    quarter = heating_limit(BEADS, policy, annealed=False).rate_c_per_h
    assert quarter == pytest.approx(heating_limit(BEADS, policy).rate_c_per_h / 4)


def test_a_batch_anneal_goes_from_cold_to_the_annealing_point_and_no_further() -> None:
    paperweight = piece(Shape.SPHERE, 80.0)

    plan = plan_firing(recipe=Recipe.BATCH_ANNEAL, pieces=[paperweight], body=body(), policy=NO_CEILINGS)

    heating, *cooling = plan.segments
    # R = 15·σ·κ/(M·a²): 3.5 MPa, a 40 mm, M 0.8077 MPa/K, κ 4.6e-7 m²/s.
    limit = heating_limit(paperweight, NO_CEILINGS, annealed=False)
    assert limit.rate_c_per_h == pytest.approx(15 * 3.5e6 * 4.6e-7 / (0.80769e6 * 0.04**2) * 3600, rel=1e-3)
    assert heating.rate_c_per_h == 67
    assert (heating.target_c, heating.governed_by) == (510, "passing stress")
    assert (heating.hold_min, heating.hold_phase) == (800, Phase.SOAK)
    assert [each.target_c for each in cooling] == [475, 425, 50]
    assert plan.heat_up_min == 0
    assert max(each.from_c for each in plan.curve.pieces) == 510


def test_pieces_for_a_fuse_were_annealed_before() -> None:
    """30 mm: 95.7 °C/h, and half of it, 47.8, for pieces from the blanket; each keyed in rounded down."""
    thick = piece(thickness_mm=30.0)

    def first_rate(recipe: Recipe) -> float | None:
        plan = plan_firing(recipe=recipe, pieces=[thick], body=body(), policy=NO_CEILINGS)
        return plan.segments[0].rate_c_per_h

    assert (first_rate(Recipe.FULL_FUSE), first_rate(Recipe.BATCH_ANNEAL)) == (95, 47)


OWN = Policy(
    processes=(
        (Recipe.SLUMP, Process(process_c=632.0, hold_min=25.0)),
        (Recipe.FULL_FUSE, Process(process_c=807.0, hold_min=12.0, squeeze_c=610.0, squeeze_min=45.0)),
    )
)


@pytest.mark.parametrize(
    ("recipe", "stops"),
    [
        (Recipe.SLUMP, [(632, 25)]),
        (Recipe.FULL_FUSE, [(610, 45), (807, 12)]),
        (Recipe.TACK_FUSE, [(650, 30), (745, 10)]),
    ],
    ids=["own slump", "own full fuse", "the house's tack fuse"],
)
def test_a_studio_fires_at_its_own_temperatures(recipe: Recipe, stops: list[tuple[float, float]]) -> None:
    plan = plan_firing(recipe=recipe, pieces=[piece()], body=body(), policy=OWN)

    held = [(each.target_c, each.hold_min) for each in plan.segments if each.hold_phase is Phase.HOLDING]
    assert [stop for stop in held if stop[1]] == stops


def test_a_recipe_without_a_hold_still_goes_there() -> None:
    policy = Policy(processes=((Recipe.FIRE_POLISH, Process(process_c=690.0, hold_min=0.0)),))

    plan = plan_firing(recipe=Recipe.FIRE_POLISH, pieces=[piece()], body=body(), policy=policy)

    assert max(each.to_c for each in plan.curve.pieces) == 690


def test_a_studio_cannot_slump_cold_glass() -> None:
    """It sags from half way between annealing (510) and softening (690): 600 °C."""
    policy = Policy(processes=((Recipe.SLUMP, Process(process_c=590.0, hold_min=60.0)),))

    with pytest.raises(RecipeTooCool, match="600 °C for slump"):
        plan_firing(recipe=Recipe.SLUMP, pieces=[piece()], body=body(), policy=policy)


@pytest.mark.parametrize("squeeze_c", [200.0, 800.0, 900.0, float("nan")])
def test_a_bubble_squeeze_lies_below_the_process(squeeze_c: float) -> None:
    with pytest.raises(SqueezeTooHot) as refused:
        Process(process_c=800.0, hold_min=10.0, squeeze_c=squeeze_c, squeeze_min=30.0)

    assert refused.value.field == "squeeze_c"


@pytest.mark.parametrize(
    ("field", "value"), [("process_c", 2500.0), ("process_c", 90.0), ("hold_min", -1.0), ("squeeze_min", 1e6)]
)
def test_a_process_of_plausible_numbers(field: str, value: float) -> None:
    with pytest.raises(OutOfRange) as refused:
        Process(**{"process_c": 800.0, "hold_min": 10.0} | {field: value})

    assert refused.value.field == field


@pytest.mark.parametrize("recipe", [each for each in Recipe if each is not Recipe.ANNEAL])
def test_only_an_annealer_is_held_for_the_working_hours(recipe: Recipe) -> None:
    with pytest.raises(NoHold, match=recipe.value.replace("-", " ")) as refused:
        plan_firing(recipe=recipe, pieces=[piece()], body=body(), working_min=120)

    assert refused.value.field == "working_min"


def test_a_garage_annealer_warms_up_is_held_and_soaks_after_the_last_piece() -> None:
    kiln = Body(tau_h=1.5, ceiling_c=1000.0, power_kw=2.0, ambient_c=20.0)

    plan = plan_firing(recipe=Recipe.ANNEAL, pieces=[BEADS], body=kiln, working_min=180)

    spans = [(each.phase, round(each.ends_min - each.starts_min)) for each in plan.curve.phase_spans()]
    assert [phase for phase, _ in spans] == [
        Phase.HEAT_UP, Phase.HOLDING, Phase.SOAK, Phase.ANNEALING, Phase.COOLING,
    ]  # fmt: skip
    assert (spans[1][1], spans[2][1]) == (180, 150)
    assert plan.curve.duration_min == pytest.approx(plan.heat_up.duration_min + 180 + plan.tail.duration_min)
    assert glass().annealing_c == plan.hold_c
