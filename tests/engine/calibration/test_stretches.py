"""Which part of a log is a free fall and which full power; and every reason to refuse one."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from studios.calibration import FitError, Kind, Log, Mark, calibrate, read_log
from studios.calibration.errors import (
    ControlledCooling,
    DoorOpened,
    MarkedTwice,
    NoConvergence,
    NotCooling,
    NotFullPower,
    NotHeating,
    NothingToFit,
    StraightHeating,
    StretchNotInLog,
    TooNoisy,
    TooShort,
)
from studios.thermal.errors import DoorBelowAmbient, OutOfRange
from tests.engine.calibration.made import (
    AMBIENT_C,
    DOOR_C,
    Array,
    body,
    brick,
    cooled,
    heated,
    hold,
    log_of,
    ramp,
)

LOGS = Path(__file__).parents[3] / "fixtures" / "logs"
KILN = body(tau_h=4.0, ceiling_c=1000.0)


def cooling(from_min: float, to_min: float) -> Mark:
    return Mark(kind=Kind.COOLING, from_min=from_min, to_min=to_min)


def full_power(from_min: float, to_min: float) -> Mark:
    return Mark(kind=Kind.FULL_POWER, from_min=from_min, to_min=to_min)


def door_midway() -> list[Array]:
    """At 300 °C the door stands open for ten minutes; then the brick warms the air again."""
    shut = cooled(KILN, to_c=300.0)
    opened = cooled(body(tau_h=0.3), from_c=300.0)[:10]
    warmer_c = float(opened[-1]) + 40
    return [shut, opened, ramp(float(opened[-1]), warmer_c, 240), cooled(KILN, from_c=warmer_c)]


FIRINGS = {
    "from the first reading": [cooled(KILN)],
    "after a hold": [hold(510, 60), cooled(KILN)],
    "after a ramp and a hold": [ramp(22, 510, 150), hold(510, 60), cooled(KILN)],
    "after controlled cooling in two stages": [
        *(ramp(22, 510, 150), hold(510, 90)),
        *(ramp(510, 370, 55), ramp(370, 300, 60), cooled(KILN, from_c=300.0)),
    ],
    "after a full fuse that fell free before its soak": [
        *(ramp(22, 680, 150), hold(680, 30), ramp(680, 800, 300), hold(800, 15)),
        *(cooled(KILN, from_c=800.0, to_c=516.0), hold(516, 90), ramp(516, 370, 55)),
        cooled(KILN, from_c=370.0),
    ],
}


@pytest.mark.parametrize("parts", FIRINGS.values(), ids=FIRINGS.keys())
@pytest.mark.parametrize("seed", range(5))
def test_the_free_fall_is_found_whatever_comes_before(parts: list[Array], seed: int) -> None:
    log = log_of(*parts, seed=seed)

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    (stretch,) = found.stretches
    heat_off_min = float(sum(len(part) for part in parts[:-1]))
    assert heat_off_min - 2 <= stretch.from_min <= heat_off_min + 90
    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.005)
    assert found.one_range.ceiling_c is None


FULL_POWER = {
    "up to a hold": [heated(KILN, to_c=800.0), hold(800, 60), cooled(KILN, from_c=800.0)],
    "straight into the fall": [heated(KILN, to_c=800.0), cooled(KILN, from_c=800.0)],
    "after a capped ramp": [
        ramp(22, 300, 190),
        *(heated(KILN, from_c=300.0, to_c=800.0), hold(800, 30), cooled(KILN, from_c=800.0)),
    ],
    "to the ceiling itself": [heated(KILN, to_c=995.0), cooled(KILN, from_c=995.0)],
}


@pytest.mark.parametrize("parts", FULL_POWER.values(), ids=FULL_POWER.keys())
def test_full_power_is_found_and_gives_the_ceiling(parts: list[Array]) -> None:
    found = calibrate(log_of(*parts), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert [stretch.kind for stretch in found.stretches] == [Kind.COOLING, Kind.FULL_POWER]
    assert found.one_range.ceiling_c == pytest.approx(1000.0, abs=3.0)
    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.005)


NO_FULL_POWER = {
    "a ramp and a hold": [ramp(22, 510, 150), hold(510, 60)],
    "two ramps, the second slower": [ramp(22, 300, 300), ramp(300, 510, 150), hold(510, 30)],
    "two ramps, the second faster": [ramp(22, 300, 100), ramp(300, 510, 200), hold(510, 30)],
    "ramps with a hold between": [ramp(22, 680, 150), hold(680, 30), ramp(680, 800, 200)],
}


@pytest.mark.parametrize("parts", NO_FULL_POWER.values(), ids=NO_FULL_POWER.keys())
def test_ramps_and_holds_of_a_program_give_no_ceiling(parts: list[Array]) -> None:
    top_c = float(parts[-1][-1])

    found = calibrate(log_of(*parts, cooled(KILN, from_c=top_c)), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.ceiling_c is None
    assert any(notice.startswith("No ceiling is found.") for notice in found.notices)


def test_the_logged_output_says_when_the_heating_was_off_and_full() -> None:
    log = read_log((LOGS / "full_fuse_with_output_in_percent_fahrenheit_steps.csv").read_bytes())

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert [stretch.kind for stretch in found.stretches] == [Kind.COOLING, Kind.FULL_POWER]
    assert found.stretches[0].from_min == 678.0
    assert found.offered.tau_h == pytest.approx(4.0, rel=0.005)
    assert found.offered.ceiling_c == pytest.approx(1000.0, abs=3.0)


def test_the_same_firing_without_its_output_is_found_by_its_shape() -> None:
    log = read_log((LOGS / "controlled_then_free_one_degree_steps.csv").read_bytes())

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.stretches[0].from_min >= 678.0
    assert found.offered.tau_h == pytest.approx(4.0, rel=0.005)
    assert found.offered.ceiling_c == pytest.approx(1000.0, abs=3.0)


def test_heating_alone_gives_both_but_nobody_accepts_it_silently() -> None:
    found = calibrate(log_of(heated(KILN, to_c=800.0)), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.offered.tau_h == pytest.approx(4.0, rel=0.01)
    assert found.offered.ceiling_c == pytest.approx(1000.0, abs=5.0)
    assert found.offered.judgement is None
    assert found.warnings == (
        "The log has no cooling with the heating off: the time to the door is not checked.",
    )


def test_what_a_person_marks_is_taken_and_nothing_else() -> None:
    log = log_of(*door_midway())

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C, stretches=[cooling(0, 130)])

    (stretch,) = found.stretches
    assert not stretch.found
    assert (stretch.from_min, stretch.to_min) == (0.0, 130.0)
    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.01)


REFUSED: dict[str, tuple[type[FitError], list[Array], str]] = {
    "door opened and shut": (DoorOpened, door_midway(), "At minute 13[4-9] .* times as fast"),
    "door left ajar": (
        DoorOpened,
        [cooled(KILN, to_c=300.0), cooled(body(tau_h=1.5), from_c=300.0)],
        "At minute 13[4-9] .*2.[3-9] times as fast",
    ),
    "controlled to the end": (ControlledCooling, [hold(510, 60), ramp(510, 60, 55)], r"\(55 °C/h\)"),
    "ended too early": (
        TooShort,
        [hold(510, 60), cooled(KILN, to_c=420.0)],
        "go 30% of the way to the ambient",
    ),
    "too few readings": (TooShort, [hold(510, 60), cooled(body(tau_h=0.2))[::4][:8]], "at least 12 readings"),
    "a ramp and nothing more": (StraightHeating, [ramp(22, 510, 150)], r"straight line \(15[01] °C/h\)"),
    "full power too short": (TooShort, [heated(KILN, to_c=250.0)], "to the ceiling, which lies near"),
    "ramps and holds": (
        NotFullPower,
        [ramp(22, 400, 300), hold(400, 60), ramp(400, 700, 100)],
        "the best curve misses it by",
    ),
    "a hold": (NothingToFit, [hold(510, 300)], "neither a stretch of cooling"),
}


@pytest.mark.parametrize(("error", "parts", "says"), REFUSED.values(), ids=REFUSED.keys())
@pytest.mark.parametrize("seed", range(3))
def test_a_log_without_a_stretch_that_holds_is_refused(
    error: type[FitError], parts: list[Array], says: str, seed: int
) -> None:
    with pytest.raises(error) as refused:
        calibrate(log_of(*parts, seed=seed), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert re.search(says, str(refused.value))
    assert refused.value.field in {"stretches", "log"}


def test_a_door_in_a_log_of_whole_degrees_every_two_minutes() -> None:
    log = read_log((LOGS / "door_opened_midway.csv").read_bytes())

    with pytest.raises(DoorOpened, match="At minute 13"):
        calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)


FIRING = log_of(ramp(22, 510, 150), hold(510, 60), ramp(510, 370, 55), cooled(KILN, from_c=370.0))
MISMARKED: dict[str, tuple[type[FitError], Mark, str]] = {
    "the ramp as full power": (StraightHeating, full_power(5, 190), "straight line"),
    "ramp and hold as full power": (NotFullPower, full_power(5, 250), "without ramps and holds"),
    "the fall as full power": (NotHeating, full_power(300, 400), "it falls by"),
    "the controlled fall as cooling": (ControlledCooling, cooling(260, 400), "controller was still heating"),
    "the ramp as cooling": (NotCooling, cooling(5, 190), "it rises by"),
    "a few minutes of cooling": (TooShort, cooling(450, 470), "too short"),
    "after the log": (StretchNotInLog, cooling(5000, 6000), "runs from minute 0 to"),
    "backwards": (StretchNotInLog, cooling(600, 450), "are no stretch"),
    "not a number": (StretchNotInLog, cooling(float("nan"), 450), "are no stretch"),
}


@pytest.mark.parametrize(("error", "mark", "says"), MISMARKED.values(), ids=MISMARKED.keys())
def test_a_stretch_marked_wrongly_is_refused(error: type[FitError], mark: Mark, says: str) -> None:
    with pytest.raises(error) as refused:
        calibrate(FIRING, ambient_c=AMBIENT_C, door_c=DOOR_C, stretches=[mark])

    assert refused.type is error
    assert says in str(refused.value)


def test_one_stretch_of_each_kind_is_marked() -> None:
    with pytest.raises(MarkedTwice):
        calibrate(
            FIRING, ambient_c=AMBIENT_C, door_c=DOOR_C, stretches=[cooling(450, 800), cooling(460, 800)]
        )


def test_seconds_taken_for_hours_fit_nothing() -> None:
    log = log_of(cooled(KILN))
    stretched = replace(log, minutes=tuple(minute * 3600 for minute in log.minutes))

    with pytest.raises(NoConvergence, match="unit of time"):
        calibrate(stretched, ambient_c=AMBIENT_C, door_c=DOOR_C)


@pytest.mark.parametrize(
    ("error", "ambient_c", "door_c", "split_c"),
    [
        (DoorBelowAmbient, 30.0, 30.0, 200.0),
        (OutOfRange, 100.0, 150.0, 200.0),
        (OutOfRange, float("nan"), 50.0, 200.0),
        (OutOfRange, 22.0, float("inf"), 200.0),
        (OutOfRange, 22.0, 50.0, -1.0),
    ],
)
def test_what_the_person_gives_is_checked(
    error: type[Exception], ambient_c: float, door_c: float, split_c: float
) -> None:
    with pytest.raises(error):
        calibrate(FIRING, ambient_c=ambient_c, door_c=door_c, split_c=split_c)


def test_readings_after_the_door_was_opened_are_not_used() -> None:
    opened = cooled(body(tau_h=0.1), from_c=50.0, to_c=23.0)

    found = calibrate(log_of(cooled(KILN, to_c=50.0), opened), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.005)


def test_an_ambient_above_the_coldest_reading_is_told() -> None:
    log = log_of(cooled(KILN), hold(18.0, 120))

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert "The log goes down to 17 °C, below ambient (22 °C): check it." in found.notices
    assert found.warnings[-1] == "The log goes down to 17 °C, below ambient (22 °C): check it."


@pytest.mark.parametrize("seed", range(20))
def test_a_brick_kiln_with_its_door_shut_is_not_accused(seed: int) -> None:
    parts = [ramp(22, 510, 150), hold(510, 60), brick()]

    found = calibrate(log_of(*parts, seed=seed), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.stretches[0].from_min == pytest.approx(195 + 60, abs=20)


def test_a_log_of_nothing_but_noise_is_refused() -> None:
    noise = np.random.default_rng(1).uniform(20, 900, 500)

    with pytest.raises(TooNoisy, match="Check the thermocouple"):
        calibrate(
            Log(minutes=tuple(map(float, range(500))), temps_c=tuple(noise.tolist())),
            ambient_c=AMBIENT_C,
            door_c=DOOR_C,
        )


def test_a_heating_that_does_not_belong_to_the_cooling_gives_no_ceiling() -> None:
    """An approach ten times as quick as the fall is a controller easing into its hold."""
    eased = heated(body(tau_h=0.4, ceiling_c=515.0), to_c=510.0)

    found = calibrate(log_of(eased, hold(510, 30), cooled(KILN)), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.ceiling_c is None
    assert any("it was not at full power throughout" in notice for notice in found.notices)


def test_one_door_opened_does_not_spoil_another_firing_in_the_log() -> None:
    log = log_of(*door_midway(), ramp(45, 510, 150), hold(510, 30), cooled(KILN))

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.005)
    assert any(notice.startswith("A cooling is left out. At minute 13") for notice in found.notices)


def test_a_cooling_seen_through_a_gap_is_the_same() -> None:
    log = log_of(hold(510, 60), cooled(KILN))
    kept = [place for place in range(len(log.minutes)) if not 200 <= place < 350]

    found = calibrate(
        Log(
            minutes=tuple(log.minutes[place] for place in kept),
            temps_c=tuple(log.temps_c[place] for place in kept),
        ),
        ambient_c=AMBIENT_C,
        door_c=DOOR_C,
    )

    assert found.one_range.tau_h == pytest.approx(4.0, rel=0.005)


def test_a_glory_hole_cools_within_the_hour() -> None:
    hole = body(tau_h=0.3, ceiling_c=1350.0)
    log = log_of(heated(hole, to_c=1200.0), hold(1200, 60), cooled(hole, from_c=1200.0))

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.tau_h == pytest.approx(0.3, rel=0.01)
    assert found.one_range.ceiling_c == pytest.approx(1350.0, abs=15.0)


@pytest.mark.parametrize("tau_h", [0.5, 1.5, 4.0, 8.0, 16.0])
@pytest.mark.parametrize("every_min", [1.0, 5.0])
def test_small_and_large_kilns_alike(tau_h: float, every_min: float) -> None:
    kiln = body(tau_h=tau_h)
    log = log_of(hold(510, 60, every_min), cooled(kiln, every_min=every_min), every_min=every_min)

    found = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.tau_h == pytest.approx(tau_h, rel=0.02)


@pytest.mark.parametrize("seed", range(30))
def test_the_end_of_a_controlled_fall_is_not_taken_for_a_door(seed: int) -> None:
    """A reading every five minutes; at 370 °C the fall becomes 1.15 times as fast, the heating being off."""
    kiln = body(tau_h=5.27)
    parts = [hold(510, 75, 5.0), ramp(510, 370, 57, 5.0), cooled(kiln, from_c=370.0, every_min=5.0)]

    found = calibrate(log_of(*parts, every_min=5.0, seed=seed), ambient_c=AMBIENT_C, door_c=DOOR_C)

    assert found.one_range.tau_h == pytest.approx(5.27, rel=0.02)
