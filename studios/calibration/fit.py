"""The least-squares fit of a record to its stretches, with 99 % intervals."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares
from scipy.stats import t as student

from studios.calibration.errors import NoConvergence
from studios.calibration.judge import Judgement
from studios.calibration.log import Log
from studios.calibration.shape import Array, step_k
from studios.calibration.stretches import Stretch

CONFIDENCE = 0.99
SHORTEST_TAU_H = 0.01
LONGEST_TAU_H = 200.0
LEAST_EACH_SIDE = 6  # readings above and below the split
LEAST_FALL_EACH_SIDE = 0.2  # in time constants
HOTTEST_CEILING_C = 2500.0


@dataclass(frozen=True, kw_only=True)
class Interval:
    """Between these limits the true value lies with 99 % confidence, if the model is the right one."""

    name: str
    low: float
    high: float

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, kw_only=True)
class Residuals:
    """Measured less fitted, reading by reading, for one stretch."""

    stretch: Stretch
    minutes: tuple[float, ...]
    kelvin: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Fit:
    """A record that a log gives: τ above the split (or throughout), τ below it, the ceiling.

    `judgement` is none where the log holds no cooling to be judged by.
    """

    tau_h: float
    tau_low_h: float | None
    split_c: float
    ceiling_c: float | None
    ambient_c: float
    intervals: tuple[Interval, ...]
    residuals: tuple[Residuals, ...]
    rms_k: float
    judgement: Judgement | None = None

    def interval(self, name: str) -> Interval | None:
        return next((each for each in self.intervals if each.name == name), None)


@dataclass(frozen=True, kw_only=True)
class Data:
    """The readings to be fitted: hours from the start of each stretch, and °C."""

    cooling: Stretch | None
    heating: Stretch | None
    cooling_h: Array
    cooling_c: Array
    heating_h: Array
    heating_c: Array

    @property
    def measured_c(self) -> Array:
        return np.concatenate((self.cooling_c, self.heating_c))


def data_of(log: Log, cooling: Stretch | None, heating: Stretch | None) -> Data:
    cooling_h, cooling_c = _readings(log, cooling)
    heating_h, heating_c = _readings(log, heating)
    return Data(
        cooling=cooling,
        heating=heating,
        cooling_h=cooling_h,
        cooling_c=cooling_c,
        heating_h=heating_h,
        heating_c=heating_c,
    )


def _readings(log: Log, stretch: Stretch | None) -> tuple[Array, Array]:
    if stretch is None:
        return np.empty(0), np.empty(0)
    inside = slice(stretch.first, stretch.last)
    return (np.array(log.minutes[inside]) - stretch.from_min) / 60, np.array(log.temps_c[inside])


def cooled_c(
    hours: Array, *, start_c: float, tau_h: float, tau_low_h: float, split_c: float, ambient_c: float
) -> Array:
    """A free fall in two ranges: Ta + (T0 − Ta)·exp(−t/τ) to the split, and from there with the other τ."""
    if start_c <= split_c or split_c <= ambient_c:
        low_from_h, high_c = 0.0, start_c
    else:
        low_from_h, high_c = tau_h * float(np.log((start_c - ambient_c) / (split_c - ambient_c))), split_c
    above = ambient_c + (start_c - ambient_c) * np.exp(-hours / tau_h)
    below = ambient_c + (high_c - ambient_c) * np.exp(-np.maximum(hours - low_from_h, 0.0) / tau_low_h)
    return np.where(hours < low_from_h, above, below)


def has_two_ranges(data: Data, *, ambient_c: float, split_c: float) -> bool:
    """Whether the cooling goes far enough above and below the split to tell two time constants apart."""
    if data.cooling is None or split_c <= ambient_c:
        return False
    excess = (data.cooling_c - ambient_c) / (split_c - ambient_c)
    enough = np.exp(LEAST_FALL_EACH_SIDE)
    sides = min(int((excess > 1).sum()), int((excess < 1).sum())) >= LEAST_EACH_SIDE
    return bool(sides and excess[:3].mean() > enough and excess[-3:].mean() < 1 / enough)


def fit(data: Data, *, ambient_c: float, split_c: float, two_ranges: bool) -> Fit:
    """Least squares over all readings of the cooling and the full-power heating together.

    They share τ; each stretch has its own first temperature, and T∞ belongs to the heating. τ is fitted as
    its logarithm, T∞ as the logarithm of its height above the first temperature, so both stay possible.
    Intervals come from the covariance with Student's quantile. Residuals that follow one another (a rounded
    reading, a body that is not quite the model) count for less: the number of readings is divided by
    1 + 2·Σρ, with the autocorrelations ρ of the residuals as far as they are positive.
    Raises NoConvergence.
    """
    names = _names(data, two_ranges=two_ranges)

    def too_hot_k(values: Array) -> Array:
        named = dict(zip(names, values.tolist(), strict=True))
        return _curve(named, data, ambient_c, split_c) - data.measured_c

    solved = least_squares(too_hot_k, _start(names, data, ambient_c), x_scale="jac")
    spread = _deviations(np.asarray(solved.jac), -solved.fun, data)
    values = dict(zip(names, solved.x.tolist(), strict=True))
    if not solved.success or not _possible(values, spread):
        raise _no_convergence(data)
    return _fit(data, values, dict(zip(names, spread.tolist(), strict=True)), -solved.fun, ambient_c, split_c)


def _names(data: Data, *, two_ranges: bool) -> list[str]:
    names = ["log_tau"]
    if data.cooling is not None:
        names += ["cooling_from_c", *(["log_tau_low"] if two_ranges else [])]
    if data.heating is not None:
        names += ["heating_from_c", "log_rise"]
    return names


def _start(names: list[str], data: Data, ambient_c: float) -> Array:
    tau_h = _first_tau_h(data, ambient_c)
    guesses = {"log_tau": np.log(tau_h), "log_tau_low": np.log(tau_h)}
    if data.cooling is not None:
        guesses["cooling_from_c"] = float(data.cooling_c[0])
    if data.heating is not None:
        share = 1 - np.exp(-float(data.heating_h[-1]) / tau_h)
        guesses["heating_from_c"] = float(data.heating_c[0])
        guesses["log_rise"] = np.log(max(float(data.heating_c[-1] - data.heating_c[0]), 1.0) / share)
    return np.array([float(guesses[name]) for name in names])


def _first_tau_h(data: Data, ambient_c: float) -> float:
    if data.cooling is None:
        return max(float(data.heating_h[-1]), SHORTEST_TAU_H)
    high, low = (max(float(each) - ambient_c, 1.0) for each in (data.cooling_c[0], data.cooling_c[-1]))
    logs = max(float(np.log(high / low)), 0.05)
    return min(max(float(data.cooling_h[-1]) / logs, SHORTEST_TAU_H), LONGEST_TAU_H)


def _curve(values: dict[str, float], data: Data, ambient_c: float, split_c: float) -> Array:
    tau_h = _exp(values["log_tau"])
    parts = []
    if data.cooling is not None:
        tau_low_h = _exp(values.get("log_tau_low", values["log_tau"]))
        ranges = {"tau_h": tau_h, "tau_low_h": tau_low_h, "split_c": split_c, "ambient_c": ambient_c}
        parts.append(cooled_c(data.cooling_h, start_c=values["cooling_from_c"], **ranges))
    if data.heating is not None:
        start_c, rise_k = values["heating_from_c"], _exp(values["log_rise"])
        parts.append(start_c + rise_k * -np.expm1(-data.heating_h / tau_h))
    return np.concatenate(parts)


def _exp(value: float) -> float:
    """Far beyond every record, but finite: the solver may try what no body is."""
    return float(np.exp(min(max(value, -30.0), 30.0)))


def _deviations(jacobian: Array, residuals: Array, data: Data) -> Array:
    """Half the width of each parameter's interval."""
    count, unknowns = jacobian.shape
    independent = sum(len(part) / _inflation(part) for part in _by_stretch(residuals, data))
    freedom = max(independent - unknowns, 1.0)
    floor = count * step_k(data.measured_c) ** 2 / 12
    variance = max(float(residuals @ residuals), floor) / count * independent / freedom
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * variance * count / independent
    quantile = float(student.ppf(0.5 + CONFIDENCE / 2, freedom))
    return quantile * np.sqrt(np.maximum(np.diag(covariance), 0.0))


def _by_stretch(residuals: Array, data: Data) -> list[Array]:
    return [part for part in np.split(residuals, [len(data.cooling_c)]) if len(part)]


def _inflation(residuals: Array) -> float:
    """1 + 2·Σρ over the first lags, as far as the autocorrelation ρ of the residuals is positive."""
    count = len(residuals)
    centred = residuals - residuals.mean()
    power = np.abs(np.fft.rfft(centred, 2 * count)) ** 2
    lags = np.fft.irfft(power)[: max(2, count // 2)]
    if lags[0] <= 0:
        return 1.0
    correlation = lags[1:] / lags[0]
    positive = int(np.argmax(correlation <= 0)) if (correlation <= 0).any() else len(correlation)
    return 1.0 + 2.0 * float(correlation[:positive].sum())


def _possible(values: dict[str, float], spread: Array) -> bool:
    taus = [_exp(values[name]) for name in ("log_tau", "log_tau_low") if name in values]
    return bool(np.isfinite(spread).all()) and all(SHORTEST_TAU_H <= tau_h <= LONGEST_TAU_H for tau_h in taus)


def _no_convergence(data: Data) -> NoConvergence:
    stretch = data.cooling or data.heating
    return NoConvergence(
        field="stretches",
        low_h=SHORTEST_TAU_H,
        high_h=LONGEST_TAU_H,
        kind="cooling" if data.cooling else "heating",
        from_min=stretch.from_min if stretch else 0.0,
        to_min=stretch.to_min if stretch else 0.0,
    )


def _fit(
    data: Data,
    values: dict[str, float],
    spread: dict[str, float],
    residuals: Array,
    ambient_c: float,
    split_c: float,
) -> Fit:
    ceiling_c = values["heating_from_c"] + _exp(values["log_rise"]) if data.heating is not None else None
    return Fit(
        tau_h=_exp(values["log_tau"]),
        tau_low_h=_exp(values["log_tau_low"]) if "log_tau_low" in values else None,
        split_c=split_c,
        ceiling_c=ceiling_c,
        ambient_c=ambient_c,
        intervals=tuple(_intervals(values, spread)),
        residuals=tuple(_residuals(data, residuals)),
        rms_k=float(np.sqrt(np.mean(residuals**2))),
    )


def _intervals(values: dict[str, float], spread: dict[str, float]) -> Iterator[Interval]:
    for name, parameter in (("tau_h", "log_tau"), ("tau_low_h", "log_tau_low")):
        if parameter in values:
            middle, half = values[parameter], spread[parameter]
            yield Interval(name=name, low=_exp(middle - half), high=_exp(middle + half))
    if "log_rise" in values:
        middle, half, start_c = values["log_rise"], spread["log_rise"], values["heating_from_c"]
        low, high = start_c + _exp(middle - half), start_c + _exp(middle + half)
        # The first temperature is uncertain as well; added in full, since the two are correlated.
        around_k = spread["heating_from_c"]
        yield Interval(name="ceiling_c", low=low - around_k, high=high + around_k)


def _residuals(data: Data, residuals: Array) -> Iterator[Residuals]:
    cooled, heated = np.split(residuals, [len(data.cooling_c)])
    for stretch, hours, part in (
        (data.cooling, data.cooling_h, cooled),
        (data.heating, data.heating_h, heated),
    ):
        if stretch is not None:
            minutes = tuple((stretch.from_min + hours * 60).tolist())
            yield Residuals(stretch=stretch, minutes=minutes, kelvin=tuple(part.tolist()))
