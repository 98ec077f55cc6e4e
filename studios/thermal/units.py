"""SI inside, the studio's units at the faces."""

from __future__ import annotations

import math

MM_PER_IN = 25.4  # exact by definition
F_PER_K = 1.8  # exact by definition
F_AT_0_C = 32.0


def f_from_c(temperature_c: float) -> float:
    return temperature_c * F_PER_K + F_AT_0_C


def c_from_f(temperature_f: float) -> float:
    return (temperature_f - F_AT_0_C) / F_PER_K


def f_per_h_from_c_per_h(rate_c_per_h: float) -> float:
    """A ramp, like every difference, converts without the 32 degrees."""
    return rate_c_per_h * F_PER_K


def c_per_h_from_f_per_h(rate_f_per_h: float) -> float:
    return rate_f_per_h / F_PER_K


def keyed_rate(rate_per_h: float) -> float:
    """A rate as it is keyed in: rounded down, so never faster than permitted; small ones to a hundredth.

    From 10 on whole degrees, from 1 on tenths. In degrees of either scale.
    """
    parts = 1 if rate_per_h >= 10 else 10 if rate_per_h >= 1 else 100
    return math.floor(rate_per_h * parts + 1e-9) / parts


def keyed_target(degrees: float, *, way: int) -> float:
    """A target in whole degrees of either scale, so that the slower rate lasts to its end.

    `way`: 1 where the program passes it rising, -1 where it passes it falling, and it is rounded on in that
    direction; 0 where it is held, and the nearest whole degree is kept.
    """
    if way > 0:
        return float(math.ceil(degrees - 1e-9))
    return float(math.floor(degrees + 1e-9)) if way < 0 else float(round(degrees))


def in_from_mm(length_mm: float) -> float:
    return length_mm / MM_PER_IN


def mm_from_in(length_in: float) -> float:
    return length_in * MM_PER_IN
