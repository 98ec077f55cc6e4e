"""Temperatures, rates and times as a technician reads and types them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from studios.thermal.units import (
    c_from_f,
    c_per_h_from_f_per_h,
    f_from_c,
    f_per_h_from_c_per_h,
    in_from_mm,
    keyed_rate,
)


@dataclass(frozen=True, kw_only=True)
class Scale:
    """°C or °F."""

    fahrenheit: bool = False

    @property
    def sign(self) -> str:
        return "°F" if self.fahrenheit else "°C"

    def degrees(self, temperature_c: float) -> str:
        shown = f_from_c(temperature_c) if self.fahrenheit else temperature_c
        return f"{round(shown)} {self.sign}"

    def rate(self, rate_c_per_h: float) -> str:
        """Rounded down, so that what is keyed in is never faster than permitted."""
        shown = f_per_h_from_c_per_h(rate_c_per_h) if self.fahrenheit else rate_c_per_h
        return f"{keyed_rate(shown):g} {self.sign}/h"

    def c(self, typed: float) -> float:
        return c_from_f(typed) if self.fahrenheit else typed

    def c_per_h(self, typed: float) -> float:
        return c_per_h_from_f_per_h(typed) if self.fahrenheit else typed


def clock(minutes: float) -> str:
    """Hours and minutes, ends rounded up: 15:24."""
    whole = math.ceil(minutes - 1e-6)
    return f"{whole // 60}:{whole % 60:02d}"


def length(thickness_mm: float) -> str:
    return f"{thickness_mm:.3g} mm ({in_from_mm(thickness_mm):.2g} in)"
