"""Cooling and heating of equipment: known values, and the closed forms against a simulation in steps."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.thermal import Body, ThermalError, cool_down_curve, heat_up_curve, reheat_min
from studios.thermal.errors import AboveCeiling, NeverCools
from tests.engine.thermal import by_steps
from tests.engine.thermal.samples import bodies, body

FEW = settings(max_examples=60, deadline=None)

# Newton's cooling, ambient 22 °C; derived, hours for τ 1, 2, 3, 4, 6 h.
NEWTON = {
    (370, 40): (2.96, 5.92, 8.89, 11.85, 17.77),
    (370, 93): (1.59, 3.18, 4.77, 6.36, 9.54),
    (480, 50): (2.79, 5.59, 8.38, 11.18, 16.77),
}


@pytest.mark.parametrize(
    ("from_c", "to_c", "tau_h", "hours"),
    [
        (*fall, tau_h, hours)
        for fall, row in NEWTON.items()
        for tau_h, hours in zip((1, 2, 3, 4, 6), row, strict=True)
    ],
)
def test_cooling_by_itself(from_c: float, to_c: float, tau_h: float, hours: float) -> None:
    curve = cool_down_curve(body(tau_h=tau_h, ambient_c=22), from_c=from_c, to_c=to_c)

    assert curve.duration_min / 60 == pytest.approx(hours, abs=0.01)


@pytest.mark.parametrize(("ambient_c", "hours"), [(15, 7.96), (30, 10.58), (35, 12.61)])
def test_a_warm_room_makes_a_long_night(ambient_c: float, hours: float) -> None:
    """Derived: τ 3 h, 370 → 40 °C."""
    curve = cool_down_curve(body(tau_h=3, ambient_c=ambient_c), from_c=370, to_c=40)

    assert curve.duration_min / 60 == pytest.approx(hours, abs=0.01)


@pytest.mark.parametrize("to_c", [22, 15])
def test_nothing_cools_to_the_room_or_below(to_c: float) -> None:
    with pytest.raises(NeverCools) as refused:
        cool_down_curve(body(ambient_c=22), from_c=370, to_c=to_c)

    assert refused.value.field == "to_c"


def test_a_brick_kiln_cools_by_its_second_time_constant_below_the_split() -> None:
    """Two stretches, each Newton's: 370 → 200 at τ 2 h, 200 → 40 at τ 4 h, by hand from logarithms."""
    curve = cool_down_curve(body(tau_h=2, tau_low_h=4, split_c=200, ambient_c=22), from_c=370, to_c=40)

    # 2·ln(348/178) = 1.341 h; 4·ln(178/18) = 9.166 h
    assert [piece.duration_min / 60 for piece in curve.pieces] == [
        pytest.approx(1.341, abs=5e-4),
        pytest.approx(9.166, abs=5e-4),
    ]
    assert curve.temperature_at(curve.pieces[0].ends_min) == pytest.approx(200)


@FEW
@given(bodies(), st.floats(250, 800), st.floats(45, 240))
def test_cooling_agrees_with_small_steps(kiln: Body, from_c: float, to_c: float) -> None:
    curve = cool_down_curve(kiln, from_c=from_c, to_c=to_c)

    assert curve.duration_min == pytest.approx(by_steps.cooling_min(kiln, from_c, to_c), abs=0.5)


@FEW
@given(bodies(), st.floats(0, 360), st.floats(401, 840))
def test_heating_within_the_ramp_limit_agrees_with_small_steps(
    kiln: Body, above_ambient_k: float, to_c: float
) -> None:
    from_c = kiln.ambient_c + above_ambient_k

    curve = heat_up_curve(kiln, from_c=from_c, to_c=to_c)

    assert curve.duration_min == pytest.approx(by_steps.heating_min(kiln, from_c, to_c), abs=0.5)


def test_a_ramp_limit_holds_until_full_power_gives_less() -> None:
    """At T∞ 1100 and τ 2 h full power gives less than 300 °C/h from 500 °C; to 800 2·ln(600/300) h."""
    curve = heat_up_curve(body(tau_h=2, ramp_limit_c_per_h=300, ambient_c=20), from_c=20, to_c=800)

    line, exponential = curve.pieces
    assert (line.from_c, line.to_c, line.toward_c) == (20, 500, None)
    assert line.duration_min == pytest.approx(480 / 300 * 60)
    assert exponential.duration_min == pytest.approx(83.18, abs=0.01)


def test_the_ceiling_is_never_reached() -> None:
    with pytest.raises(AboveCeiling) as refused:
        heat_up_curve(body(ceiling_c=1100), from_c=20, to_c=1100)

    assert "1100" in str(refused.value)


def test_hot_enough_needs_no_heat() -> None:
    assert heat_up_curve(body(), from_c=600, to_c=500).whole_min == 0
    assert cool_down_curve(body(), from_c=40, to_c=50).whole_min == 0


GLORY_HOLE = body(tau_h=0.5, ceiling_c=1300, ramp_limit_c_per_h=None, ambient_c=30)


def test_a_glory_hole_left_cold_takes_what_a_cold_start_takes() -> None:
    """From 30 to 1150 °C at full power: 30·ln(1270/150) = 64.1 min."""
    assert reheat_min(GLORY_HOLE, gap_min=100_000, working_c=1150) == 65
    assert heat_up_curve(GLORY_HOLE, from_c=30, to_c=1150).whole_min == 65


def test_a_glory_hole_just_left_is_kept_hot() -> None:
    """Full power gives 300 °C/h at 1150 and it falls at 2240: a minute off is not made good in a minute."""
    assert reheat_min(GLORY_HOLE, gap_min=2, working_c=1150) == 2
    assert reheat_min(GLORY_HOLE, gap_min=0, working_c=1150) == 0


@FEW
@given(bodies(), st.integers(0, 400), st.floats(400, 840))
def test_reheating_is_the_fewest_minutes_that_suffice(kiln: Body, gap_min: int, working_c: float) -> None:
    def needs_min(lit_min: int) -> float:
        left_at_c = by_steps.cooled_c(kiln, working_c, gap_min - lit_min)
        return by_steps.heating_min(kiln, left_at_c, working_c) if left_at_c < working_c else 0.0

    lit_min = reheat_min(kiln, gap_min=gap_min, working_c=working_c)

    assert 0 <= lit_min <= gap_min
    assert needs_min(lit_min) <= lit_min + 0.05
    if lit_min > 0:
        assert needs_min(lit_min - 1) > lit_min - 1 - 0.05


@given(bodies(), st.integers(0, 2000), st.floats(400, 840))
def test_a_longer_gap_never_needs_less_heat(kiln: Body, gap_min: int, working_c: float) -> None:
    shorter = reheat_min(kiln, gap_min=gap_min, working_c=working_c)
    longer = reheat_min(kiln, gap_min=gap_min + 30, working_c=working_c)
    cold_start = heat_up_curve(kiln, from_c=kiln.ambient_c, to_c=working_c).whole_min

    assert shorter <= longer <= cold_start


@pytest.mark.parametrize(
    ("gap_min", "working_c", "field"), [(-1, 1150, "gap_min"), (60, 1300, "working_c"), (60, 30, "working_c")]
)
def test_reheating_that_makes_no_sense(gap_min: int, working_c: float, field: str) -> None:
    with pytest.raises(ThermalError) as refused:
        reheat_min(GLORY_HOLE, gap_min=gap_min, working_c=working_c)

    assert refused.value.field == field


@pytest.mark.parametrize(
    ("ambient_c", "door_c", "opens_at_c"),
    [(22, None, 50), (35, None, 50), (38, None, 53), (60, None, 75), (22, 40, 40), (22, 93, 93)],
)
def test_the_door_opens_at_50_or_15_above_the_room(
    ambient_c: float, door_c: float | None, opens_at_c: float
) -> None:
    """Common practice: the higher of the two, never above 93 °C."""
    assert body(ambient_c=ambient_c, door_c=door_c).opening_c == opens_at_c
