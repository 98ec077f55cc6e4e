"""Bad input gets a named error, the field at fault and a sentence that says what to do."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from dataclasses import replace

import pytest

from studios.errors import LehrbookError
from studios.thermal import (
    Body,
    Curve,
    Phase,
    Piece,
    Policy,
    Process,
    Recipe,
    Segment,
    Shape,
    ThermalError,
    compatible,
    examine_program,
    family,
    plan_firing,
)
from studios.thermal import errors as refusals
from tests.engine.thermal.samples import body, glass, piece

STIFF = Piece(
    glass=glass(annealing_c=560.0, strain_c=512.0, softening_c=822.0, name="stiff"),
    shape=Shape.PLATE_ON_SHELF,
    thickness_mm=6,
)


def fire(recipe: Recipe = Recipe.ANNEAL, load: list[Piece] | None = None, **changes: float) -> object:
    start_c = changes.pop("start_c", None)
    return plan_firing(
        recipe=recipe, pieces=[piece()] if load is None else load, body=body(**changes), start_c=start_c
    )


def fused(*other_expansions: float) -> Piece:
    others = tuple(glass(name="amber", expansion_per_k=each) for each in other_expansions)
    return Piece(glass=glass(), shape=Shape.PLATE_ON_SHELF, thickness_mm=6, fused_with=others)


def plan(*, working_min: float = 0.0, most_segments: int | None = None) -> object:
    return plan_firing(
        recipe=Recipe.SLUMP,
        pieces=[piece()],
        body=body(),
        working_min=working_min,
        most_segments=most_segments,
    )


def examined(way: list[tuple[float, float]]) -> object:
    segments = [
        Segment(rate_c_per_h=rate, target_c=target, hold_min=0, phase=Phase.HEAT_UP, governed_by="")
        for rate, target in way
    ]
    return examine_program(segments=segments, pieces=[piece()], body=body())


REFUSED: list[tuple[Callable[[], object], type[ThermalError], str | None]] = [
    (lambda: piece(thickness_mm=-3), refusals.AbsurdThickness, "thickness_mm"),
    (lambda: piece(thickness_mm=0), refusals.AbsurdThickness, "thickness_mm"),
    (lambda: piece(thickness_mm=6000), refusals.AbsurdThickness, "thickness_mm"),
    (lambda: piece(thickness_mm=math.nan), refusals.AbsurdThickness, "thickness_mm"),
    (lambda: fused(96e-7), refusals.MixedExpansion, "fused_with"),
    (lambda: fused(90e-7, 104e-7), refusals.MixedExpansion, "fused_with"),
    (lambda: glass(strain_c=520), refusals.PointsOutOfOrder, "annealing_c"),
    (lambda: glass(softening_c=500), refusals.PointsOutOfOrder, "annealing_c"),
    (lambda: glass(expansion_per_k=90), refusals.OutOfRange, "expansion_per_k"),
    (lambda: glass(youngs_pa=70), refusals.OutOfRange, "youngs_pa"),
    (lambda: glass(poisson=-0.2), refusals.OutOfRange, "poisson"),
    (lambda: body(tau_h=0), refusals.OutOfRange, "tau_h"),
    (lambda: body(tau_low_h=-1), refusals.OutOfRange, "tau_low_h"),
    (lambda: body(ramp_limit_c_per_h=0), refusals.OutOfRange, "ramp_limit_c_per_h"),
    (lambda: body(ceiling_c=20), refusals.CeilingBelowAmbient, "ceiling_c"),
    (lambda: body(ambient_c=35, door_c=35), refusals.DoorBelowAmbient, "door_c"),
    (lambda: body(ambient_c=35, door_c=30), refusals.DoorBelowAmbient, "door_c"),
    (lambda: body(door_c=120), refusals.DoorTooHot, "door_c"),
    (lambda: Policy(kept_mpa=0), refusals.OutOfRange, "kept_mpa"),
    (lambda: Policy(cooling_ceilings=((12, 55), (6, 85))), refusals.CeilingsOutOfOrder, "cooling_ceilings"),
    (lambda: Policy(heating_ceilings=()), refusals.CeilingsOutOfOrder, "heating_ceilings"),
    (lambda: fire(load=[]), refusals.NothingToFire, "pieces"),
    (lambda: fire(load=[piece(), STIFF]), refusals.AnnealingPointsDiffer, "pieces"),
    (lambda: fire(ceiling_c=510), refusals.AboveCeiling, "body"),
    (lambda: fire(Recipe.FULL_FUSE, ceiling_c=790), refusals.AboveCeiling, "body"),
    (lambda: fire(Recipe.FULL_FUSE, [STIFF]), refusals.RecipeTooCool, "recipe"),
    (lambda: fire(Recipe.SLUMP, [STIFF]), refusals.RecipeTooCool, "recipe"),
    (lambda: fire(Recipe.SLUMP, start_c=200), refusals.TooHotToLoad, "start_c"),
    (lambda: fire(start_c=math.inf), refusals.OutOfRange, "start_c"),
    (lambda: fire(start_c=1100.5), refusals.AboveCeiling, "start_c"),
    (lambda: fire(Recipe.SLUMP, start_c=1100.5), refusals.AboveCeiling, "start_c"),
    (lambda: body(tau_h=math.nan), refusals.OutOfRange, "tau_h"),
    (lambda: body(split_c=-1), refusals.OutOfRange, "split_c"),
    (lambda: body(power_kw=-1), refusals.OutOfRange, "power_kw"),
    (lambda: body(ambient_c=90), refusals.OutOfRange, "ambient_c"),
    (lambda: glass(working_c=100), refusals.OutOfRange, "working_c"),
    (lambda: glass(working_c=690), refusals.WorkingPointTooLow, "working_c"),
    (lambda: glass(working_c=700), refusals.IsokomsOutOfOrder, "isokoms"),
    (lambda: glass(annealing_c=475), refusals.PointsOutOfOrder, "annealing_c"),
    (lambda: family("window"), refusals.UnknownGlass, "glass"),
    (lambda: replace(piece(), foot_mm=9), refusals.OnlyVesselsHaveAFoot, "foot_mm"),
    (lambda: replace(piece(Shape.VESSEL), foot_mm=0), refusals.AbsurdThickness, "foot_mm"),
    (lambda: Process(process_c=800, hold_min=9, squeeze_c=801), refusals.SqueezeTooHot, "squeeze_c"),
    (lambda: Policy(second_stage_k=-1), refusals.OutOfRange, "second_stage_k"),
    (lambda: Policy(second_stage_times=0.5), refusals.OutOfRange, "second_stage_times"),
    (lambda: Policy(unannealed_share=0), refusals.OutOfRange, "unannealed_share"),
    (lambda: Policy(sharing_tolerance_k=math.nan), refusals.OutOfRange, "sharing_tolerance_k"),
    (lambda: plan(working_min=60), refusals.NoHold, "working_min"),
    (lambda: plan(working_min=-60), refusals.OutOfRange, "working_min"),
    (lambda: plan(most_segments=1), refusals.TooFewSegments, "controller_segments"),
    (lambda: examined([]), refusals.EmptyProgram, "segments"),
    (lambda: examined([(150, 520)]), refusals.NoCoolingStage, "segments"),
    (lambda: Curve().falls_to(40), refusals.EmptyCurve, None),
]


@pytest.mark.parametrize(("attempt", "kind", "field"), REFUSED)
def test_refused_with_the_field_and_a_sentence(
    attempt: Callable[[], object], kind: type[ThermalError], field: str | None
) -> None:
    with pytest.raises(ThermalError) as refused:
        attempt()

    assert type(refused.value) is kind
    assert refused.value.field == field
    assert str(refused.value).endswith(".")
    assert "{" not in str(refused.value)


def test_a_start_at_the_ceiling_itself_is_planned() -> None:
    """No equipment is hotter than where full power holds it, but it may be just that hot."""
    hot = plan_firing(recipe=Recipe.ANNEAL, pieces=[piece()], body=body(), start_c=1100.0)

    assert hot.heat_up.pieces[0].from_c == 1100


def test_every_refusal_of_the_model_is_met_here() -> None:
    kinds = {kind for kind in vars(refusals).values() if isinstance(kind, type)}
    leaves = {kind for kind in kinds if issubclass(kind, ThermalError)} - {ThermalError}

    # NeverCools is met where equipment cools (test_body.py).
    assert leaves - {refusals.NeverCools} == {kind for _, kind, _ in REFUSED}


def test_every_refusal_has_its_own_code() -> None:
    kinds = [
        kind for kind in vars(refusals).values() if isinstance(kind, type) and issubclass(kind, LehrbookError)
    ]

    assert len({kind.code for kind in kinds}) == len(kinds)


def test_a_refusal_survives_a_queue() -> None:
    with pytest.raises(refusals.MixedExpansion) as refused:
        fused(96e-7)

    again = pickle.loads(pickle.dumps(refused.value))

    assert type(again) is refusals.MixedExpansion
    assert (str(again), again.facts) == (str(refused.value), refused.value.facts)
    assert "13" in str(again)


def test_one_expansion_may_be_fused_in_many_colours() -> None:
    assert len(fused(90e-7, 90e-7).fused_with) == 2


@pytest.mark.parametrize(("annealing_c", "together"), [(510, True), (515, True), (505, True), (515.1, False)])
def test_who_may_share_a_firing(annealing_c: float, together: bool) -> None:
    assert compatible(glass(), glass(annealing_c=annealing_c)) is together
    assert compatible(glass(annealing_c=annealing_c), glass(), Policy()) is together


def test_soft_glass_and_borosilicate_cannot_share_a_firing() -> None:
    """Common practice: 504-516 °C against 566 °C."""
    soft = glass(annealing_c=510)
    borosilicate = glass(annealing_c=566, strain_c=512, softening_c=822)

    assert not compatible(soft, borosilicate)


def test_an_unlisted_fact_is_no_field() -> None:
    assert LehrbookError().field is None
    assert isinstance(body(), Body)
