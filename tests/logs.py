"""Logs as a logger would have written them of bodies that are known. Invented values."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

STEP_MIN = 3


def cooled_c(
    hours: float,
    tau_h: float,
    tau_low_h: float | None = None,
    *,
    from_c: float = 510.0,
    split_c: float = 200.0,
    ambient_c: float = 30.0,
) -> float:
    """A free fall, with another time constant below the split where one is given."""
    fall_h = tau_h * math.log((from_c - ambient_c) / (split_c - ambient_c))
    if tau_low_h is None or hours <= fall_h:
        return ambient_c + (from_c - ambient_c) * math.exp(-hours / tau_h)
    return ambient_c + (split_c - ambient_c) * math.exp(-(hours - fall_h) / tau_low_h)


def heated_c(hours: float, tau_h: float, ceiling_c: float, ambient_c: float = 30.0) -> float:
    """At full power from cold."""
    return ceiling_c - (ceiling_c - ambient_c) * math.exp(-hours / tau_h)


def written(curve: Callable[[float], float], hours: float, *, unit: str = "C") -> str:
    """A log of a curve, a reading every three minutes, rounded and hardly noisy."""
    noise = random.Random(7)
    lines = [f"elapsed (min),temperature (°{unit})"]
    for minute in range(0, int(hours * 60) + 1, STEP_MIN):
        temp_c = curve(minute / 60) + noise.gauss(0, 0.02)
        lines.append(f"{minute},{temp_c * 9 / 5 + 32 if unit == 'F' else temp_c:.2f}")
    return "\n".join(lines) + "\n"


def cooling_log(tau_h: float, tau_low_h: float | None = None, *, unit: str = "C") -> str:
    """A night's cooling with the heat off, from 510 °C to below the door temperature."""
    return written(
        lambda hours: cooled_c(hours, tau_h, tau_low_h), 4.5 * max(tau_h, tau_low_h or 0), unit=unit
    )


def firing_log(tau_h: float, ceiling_c: float) -> str:
    """Full power from cold to 600 °C, an hour's hold, and the cooling after it."""
    at_hold_h = -tau_h * math.log((ceiling_c - 600) / (ceiling_c - 30))

    def curve(hours: float) -> float:
        if hours < at_hold_h:
            return heated_c(hours, tau_h, ceiling_c)
        since_h = hours - at_hold_h - 1
        return 600.0 if since_h < 0 else cooled_c(since_h, tau_h, from_c=600)

    return written(curve, at_hold_h + 1 + 4.5 * tau_h)


def ramp_log() -> str:
    """Only a heating held to 100 °C an hour by the controller."""
    return written(lambda hours: 30 + 100 * hours, 5)
