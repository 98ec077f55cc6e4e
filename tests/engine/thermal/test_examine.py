"""A technician's own program, held against the glass: what it would leave, and whether it soaks enough."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import (
    Body,
    Examined,
    Phase,
    Piece,
    Policy,
    Recipe,
    Segment,
    examine_program,
    plan_firing,
)
from studios.thermal.errors import (
    AboveCeiling,
    EmptyProgram,
    NeverCools,
    NoCoolingStage,
    NothingToFire,
    OutOfRange,
    ThermalError,
)
from studios.thermal.report import Stress, StressLine
from tests.engine.thermal.samples import NO_CEILINGS, bodies, body, piece, pieces

SLAB = piece(thickness_mm=12.0)  # 59.8 °C/h keeps 0.7 MPa; 299 °C/h pulls the surface at 7; soaks two hours
QUICK = body(tau_h=0.2, ceiling_c=1300.0)


def step(rate_c_per_h: float | None, target_c: float, hold_min: float = 0.0) -> Segment:
    return Segment(
        rate_c_per_h=rate_c_per_h,
        target_c=target_c,
        hold_min=hold_min,
        phase=Phase.HEAT_UP,
        governed_by="",
    )


def examined(*segments: Segment, load: Piece = SLAB, kiln: Body = QUICK) -> Examined:
    return examine_program(segments=segments, pieces=[load], body=kiln, policy=NO_CEILINGS)


def line(found: Examined, what: Stress) -> StressLine:
    return next(each for each in found.stress if each.what is what)


GENTLE = (step(150, 510, 120), step(55, 475), step(100, 425), step(250, 60))


def test_a_gentle_program_is_within() -> None:
    found = examined(*GENTLE)

    assert found.within
    assert line(found, Stress.KEPT).classical_mpa == pytest.approx(0.7 * 55 / 59.79, abs=1e-3)
    assert line(found, Stress.HEATING).classical_mpa == pytest.approx(7 * 150 / 597.9, abs=1e-3)
    assert line(found, Stress.COOLING).classical_mpa == pytest.approx(7 * 250 / 298.96, abs=1e-3)
    assert [(soak.held_min, soak.needed_min) for soak in found.soaks] == [(120, 120)]


@pytest.mark.parametrize(
    ("segments", "what"),
    [
        ((step(700, 510, 120), *GENTLE[1:]), Stress.HEATING),
        ((GENTLE[0], step(70, 475), *GENTLE[2:]), Stress.KEPT),
        ((*GENTLE[:3], step(320, 60)), Stress.COOLING),
    ],
    ids=["heated too fast", "annealed too fast", "cooled too fast"],
)
def test_a_reckless_program_is_found_out_where_it_is_reckless(
    segments: tuple[Segment, ...], what: Stress
) -> None:
    found = examined(*segments)

    assert not found.within
    assert [each.what for each in found.stress if not each.within] == [what]
    assert all(soak.within for soak in found.soaks)


def test_a_soak_of_an_hour_is_too_short_for_12_mm() -> None:
    found = examined(step(150, 510, 60), *GENTLE[1:])

    assert not found.within
    assert [(soak.held_min, soak.needed_min, soak.within) for soak in found.soaks] == [(60, 120, False)]
    assert all(each.within for each in found.stress)


def test_without_a_hold_in_the_annealing_range_nothing_soaks() -> None:
    found = examined(step(150, 650, 120), step(55, 60))

    assert [soak.held_min for soak in found.soaks] == [0]


def test_two_segments_may_make_one_soak() -> None:
    found = examined(step(150, 510, 60), step(None, 510, 60), *GENTLE[1:])

    assert found.within


def test_a_short_stop_on_the_way_down_takes_nothing_from_the_soak() -> None:
    """Two hours at 510, then ten minutes at the strain point, where nothing relaxes in ten minutes."""
    found = examined(*GENTLE[:1], step(55, 475, 10), *GENTLE[2:])

    assert found.within


def test_a_short_stop_hides_no_stress_made_before_it() -> None:
    """Thrown down to the strain point at 500 °C/h and held ten minutes there: it keeps 0.7 · 500/59.8."""
    found = examined(*GENTLE[:1], step(500, 475, 10), *GENTLE[2:])

    assert not found.within
    assert line(found, Stress.KEPT).classical_mpa == pytest.approx(0.7 * 500 / 59.79, abs=0.01)


def test_what_fell_before_the_soak_does_not_count() -> None:
    """Crashed from the fuse to 490 °C, brought back to 510 and soaked: all that relaxes."""
    crashed = (step(150, 700, 10), step(2000, 490), step(100, 510, 120), *GENTLE[1:])

    assert examined(*crashed).within


def test_four_hours_at_the_strain_point_are_a_soak_too() -> None:
    """Stress is gone in four hours there (textbook gloss), so what fell before counts no more."""
    found = examined(step(150, 510, 5), step(500, 475, 260), *GENTLE[2:])

    assert found.within
    assert line(found, Stress.KEPT).classical_mpa == 0


def test_each_glass_of_a_load_is_looked_at_by_itself() -> None:
    thin = piece(thickness_mm=3.0)
    found = examine_program(
        segments=(step(150, 510, 60), step(80, 475), step(250, 60)),
        pieces=[thin, SLAB, thin],
        body=QUICK,
        policy=NO_CEILINGS,
    )

    assert [(soak.piece.thickness_mm, soak.within) for soak in found.soaks] == [(3, True), (12, False)]
    assert {each.piece.thickness_mm for each in found.stress if not each.within} == {12}


def test_a_slow_kiln_is_gentler_than_the_program() -> None:
    """At 500 °C/h asked, a kiln of τ 10 h falls from 510 °C at 48.8 at most."""
    slow = body(tau_h=10.0)
    found = examined(*GENTLE[:1], step(500, 475), *GENTLE[2:], kiln=slow)

    assert line(found, Stress.KEPT).rate_c_per_h == pytest.approx(48.8)
    assert found.got.duration_min > found.asked.duration_min
    assert any(lag.departs_c == 510 for lag in found.lags)


def test_after_the_last_segment_it_cools_by_itself_to_the_door() -> None:
    """From 300 °C with the heat off: 12·ln(278/28) min."""
    found = examined(*GENTLE[:1], step(55, 300))

    last = found.got.pieces[-1]
    assert (last.from_c, last.to_c, last.toward_c) == (300, 50, 22)
    assert last.duration_min == pytest.approx(12 * 2.29548, abs=1e-3)


@settings(max_examples=200, deadline=None)
@given(
    pieces(),
    bodies(),
    st.sampled_from([each for each in Recipe if each is not Recipe.ANNEAL]),
    st.sampled_from([Policy(), NO_CEILINGS]),
)
def test_a_planned_program_passes_the_examination(
    drawn: Piece, kiln: Body, recipe: Recipe, policy: Policy
) -> None:
    plan = plan_firing(recipe=recipe, pieces=[drawn], body=kiln, policy=policy)

    found = examine_program(segments=plan.segments, pieces=[drawn], body=kiln, policy=policy)

    assert found.got == plan.curve
    assert found.asked == plan.asked
    assert found.lags == plan.lags
    assert found.within


REFUSED: list[tuple[tuple[Segment, ...], type[ThermalError], str]] = [
    ((), EmptyProgram, "segments"),
    ((step(150, 510, 120),), NoCoolingStage, "segments"),
    ((step(150, 800, 10), step(None, 510, 60)), NoCoolingStage, "segments"),
    ((step(0, 510, 120), *GENTLE[1:]), OutOfRange, "segments[1].rate_c_per_h"),
    ((*GENTLE[:3], step(-5, 60)), OutOfRange, "segments[4].rate_c_per_h"),
    ((*GENTLE[:3], step(float("nan"), 60)), OutOfRange, "segments[4].rate_c_per_h"),
    ((step(100, 5000), *GENTLE), OutOfRange, "segments[1].target_c"),
    ((step(100, 510, -1), *GENTLE[1:]), OutOfRange, "segments[1].hold_min"),
    ((step(100, 1350), *GENTLE), AboveCeiling, "to_c"),
    ((*GENTLE, step(None, 15)), NeverCools, "to_c"),
]


@pytest.mark.parametrize(("segments", "kind", "field"), REFUSED)
def test_a_program_that_makes_no_sense(
    segments: tuple[Segment, ...], kind: type[ThermalError], field: str
) -> None:
    with pytest.raises(ThermalError) as refused:
        examined(*segments)

    assert type(refused.value) is kind
    assert refused.value.field == field


def test_a_program_for_nothing() -> None:
    with pytest.raises(NothingToFire):
        examine_program(segments=GENTLE, pieces=[], body=QUICK)
