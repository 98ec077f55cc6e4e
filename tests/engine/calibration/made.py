"""Logs as a kiln would leave them: made by the model or by hand, with the noise of a thermocouple."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np
from numpy.typing import NDArray

from studios.calibration import Log
from studios.thermal import Body, cool_down_curve, heat_up_curve

Array = NDArray[np.float64]
AMBIENT_C = 22.0
DOOR_C = 50.0


def body(*, tau_h: float = 4.0, tau_low_h: float | None = None, ceiling_c: float = 1000.0) -> Body:
    return Body(
        tau_h=tau_h,
        tau_low_h=tau_low_h,
        ceiling_c=ceiling_c,
        power_kw=5.0,
        ambient_c=AMBIENT_C,
        door_c=DOOR_C,
    )


def cooled(kiln: Body, *, from_c: float = 510.0, to_c: float = 45.0, every_min: float = 1.0) -> Array:
    """°C at each reading of a cooling with the heating off."""
    curve = cool_down_curve(kiln, from_c=from_c, to_c=to_c)
    return _read(curve.temperature_at, curve.duration_min, every_min)


def heated(kiln: Body, *, from_c: float = 22.0, to_c: float = 820.0, every_min: float = 1.0) -> Array:
    """°C at each reading of a heating at full power."""
    curve = heat_up_curve(kiln, from_c=from_c, to_c=to_c)
    return _read(curve.temperature_at, curve.duration_min, every_min)


def ramp(from_c: float, to_c: float, rate_c_per_h: float, every_min: float = 1.0) -> Array:
    minutes = abs(to_c - from_c) / rate_c_per_h * 60
    return np.linspace(from_c, to_c, max(2, round(minutes / every_min)))


def hold(at_c: float, minutes: float, every_min: float = 1.0) -> Array:
    return np.full(round(minutes / every_min), at_c)


def brick_c(minutes: float, *, from_c: float = 510.0) -> float:
    """A hot face and brick: 40 % of the excess goes with 1.2 h and 60 % with 4 h (derived, no kiln's log)."""
    hours = minutes / 60
    return AMBIENT_C + (from_c - AMBIENT_C) * (0.4 * math.exp(-hours / 1.2) + 0.6 * math.exp(-hours / 4))


def brick(*, from_c: float = 510.0, hours: float = 14.0, every_min: float = 1.0) -> Array:
    return _read(lambda minute: brick_c(minute, from_c=from_c), hours * 60, every_min)


def noisy(temps_c: Iterable[float], *, seed: int = 0, noise_k: float = 1.0) -> Array:
    clean = np.array(list(temps_c))
    return clean + np.random.default_rng(seed).normal(0.0, noise_k, len(clean))


def log_of(*parts: Array, every_min: float = 1.0, seed: int = 0, noise_k: float = 1.0) -> Log:
    """A log with all parts one after another."""
    temps_c = noisy(np.concatenate(parts), seed=seed, noise_k=noise_k)
    minutes = np.arange(len(temps_c)) * every_min
    return Log(minutes=tuple(minutes.tolist()), temps_c=tuple(temps_c.tolist()))


def csv_of(log: Log, *, header: str = "minutes,temperature °C", digits: int = 1) -> str:
    pairs = zip(log.minutes, log.temps_c, strict=True)
    return "\n".join([header, *(f"{minute:g},{temp_c:.{digits}f}" for minute, temp_c in pairs)])


def _read(temperature_at: Callable[[float], float], minutes: float, every_min: float) -> Array:
    return np.array([temperature_at(minute) for minute in np.arange(0.0, minutes, every_min).tolist()])
