"""A 99 % interval that is stated contains the true value, in at least 95 of 100 logs of one kiln."""

from __future__ import annotations

import numpy as np
import pytest

from studios.calibration import Fit, Log, calibrate
from studios.calibration.fit import data_of, fit
from studios.calibration.stretches import Kind, stretch_of
from tests.engine.calibration.made import AMBIENT_C, DOOR_C, Array, body, cooled, heated, hold, log_of

RUNS = 100
LEAST = 95
ONE = body(tau_h=4.0, ceiling_c=1000.0)
TWO = body(tau_h=3.0, tau_low_h=4.5)


def held(fits: list[Fit], name: str, true: float) -> int:
    intervals = [each.interval(name) for each in fits]
    return sum(interval is not None and interval.holds(true) for interval in intervals)


def rounded(log: Log, step_k: float) -> Log:
    temps_c = np.round(np.array(log.temps_c) / step_k) * step_k
    return Log(minutes=log.minutes, temps_c=tuple(temps_c.tolist()))


@pytest.mark.parametrize("every_min", [1.0, 5.0])
def test_one_time_constant(every_min: float) -> None:
    logs = [log_of(cooled(ONE, every_min=every_min), every_min=every_min, seed=s) for s in range(RUNS)]

    fits = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).one_range for log in logs]

    assert held(fits, "tau_h", 4.0) >= LEAST


@pytest.mark.parametrize("every_min", [1.0, 5.0])
def test_two_time_constants(every_min: float) -> None:
    logs = [log_of(cooled(TWO, every_min=every_min), every_min=every_min, seed=s) for s in range(RUNS)]

    calibrations = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C) for log in logs]
    fits = [each.two_range for each in calibrations if each.two_range is not None]

    assert all(each.offered is each.two_range for each in calibrations)
    assert held(fits, "tau_h", 3.0) >= LEAST
    assert held(fits, "tau_low_h", 4.5) >= LEAST


@pytest.mark.parametrize("every_min", [1.0, 5.0])
def test_time_constant_and_ceiling_together(every_min: float) -> None:
    parts = heated(ONE, every_min=every_min), cooled(ONE, from_c=820.0, every_min=every_min)
    logs = [log_of(*parts, every_min=every_min, seed=s) for s in range(RUNS)]

    fits = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).one_range for log in logs]

    assert held(fits, "tau_h", 4.0) >= LEAST
    assert held(fits, "ceiling_c", 1000.0) >= LEAST


def test_two_time_constants_and_the_ceiling_together() -> None:
    parts = heated(TWO, every_min=5.0), cooled(TWO, from_c=820.0, every_min=5.0)
    logs = [log_of(*parts, every_min=5.0, seed=s) for s in range(RUNS)]

    offered = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).offered for log in logs]

    assert held(offered, "tau_h", 3.0) >= LEAST
    assert held(offered, "tau_low_h", 4.5) >= LEAST
    assert held(offered, "ceiling_c", 1000.0) >= LEAST


def test_ceiling_and_time_constant_from_heating_alone() -> None:
    logs = [log_of(heated(ONE, to_c=700.0), seed=s) for s in range(RUNS)]

    fits = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).one_range for log in logs]

    assert held(fits, "tau_h", 4.0) >= LEAST
    assert held(fits, "ceiling_c", 1000.0) >= LEAST


@pytest.mark.parametrize("step_k", [1.0, 1 / 1.8], ids=["1 °C", "1 °F"])
@pytest.mark.parametrize("noise_k", [0.02, 0.3])
def test_readings_rounded_by_the_logger(step_k: float, noise_k: float) -> None:
    """A hold and a free fall; each run starts at another fraction of a degree."""
    starts_c = np.linspace(509.0, 511.0, RUNS).tolist()
    logs = [
        rounded(log_of(hold(c, 30), cooled(ONE, from_c=c), seed=s, noise_k=noise_k), step_k)
        for s, c in enumerate(starts_c)
    ]

    fits = [calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).one_range for log in logs]

    assert held(fits, "tau_h", 4.0) >= LEAST


def drifting(count: int, seed: int) -> Array:
    """A disturbance that remembers itself for about ten readings, of 1 K."""
    steps = np.random.default_rng(seed).normal(0.0, 1.0, count)
    drift = np.empty(count)
    drift[0] = steps[0]
    for place in range(1, count):
        drift[place] = 0.9 * drift[place - 1] + (1 - 0.9**2) ** 0.5 * steps[place]
    return drift


def test_residuals_that_follow_one_another_widen_the_interval() -> None:
    clean = cooled(ONE)
    logs = [log_of(clean + drifting(len(clean), s), noise_k=0.1, seed=s) for s in range(RUNS)]

    fits = [
        fit(
            data_of(log, stretch_of(log, Kind.COOLING, 0, len(log.minutes), found=False), None),
            ambient_c=AMBIENT_C,
            split_c=200.0,
            two_ranges=False,
        )
        for log in logs
    ]

    assert held(fits, "tau_h", 4.0) >= LEAST


def test_an_interval_is_no_wider_than_it_need_be() -> None:
    """Five minutes between readings of 1 K noise tell τ to better than one per cent."""
    interval = calibrate(
        log_of(cooled(ONE, every_min=5.0), every_min=5.0), ambient_c=AMBIENT_C, door_c=DOOR_C
    ).one_range.interval("tau_h")

    assert interval is not None
    assert interval.high - interval.low < 0.01 * 4.0 * 2
