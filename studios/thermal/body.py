"""A kiln, annealer or glory hole as one lumped body: what it loses is in proportion to how hot it is."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from studios.thermal.errors import CeilingBelowAmbient, DoorBelowAmbient, DoorTooHot, require_range

# The house rule for opening a door: 50 °C or ambient + 15 K, the higher, never above 200 °F. Common practice.
DOOR_C = 50.0
DOOR_ABOVE_AMBIENT_K = 15.0
HOTTEST_DOOR_C = 93.0


@dataclass(frozen=True, kw_only=True)
class CoolingRange:
    """A stretch of falling temperature with one time constant."""

    tau_h: float
    from_c: float
    to_c: float


@dataclass(frozen=True, kw_only=True)
class Body:
    """The thermal record of one piece of equipment.

    `tau_h`: time constant; `ceiling_c`: where full power holds it; `power_kw`: full power;
    `ramp_limit_c_per_h`: the fastest it may be heated. A brick kiln is not one exponential: `tau_low_h` rules
    its cooling below `split_c`, where brick soaked through gives its heat back. Heating from cold warms the
    hot face first, so it goes by `tau_h` throughout. `door_c` overrides the house rule for opening.
    Raises OutOfRange, CeilingBelowAmbient, DoorBelowAmbient or DoorTooHot.
    """

    tau_h: float
    tau_low_h: float | None = None
    split_c: float = 200.0
    ceiling_c: float
    power_kw: float
    ramp_limit_c_per_h: float | None = None
    ambient_c: float = 30.0
    door_c: float | None = None

    def __post_init__(self) -> None:
        require_range("tau_h", self.tau_h, 0.01, 200.0)
        require_range("split_c", self.split_c, 0.0, 1000.0)
        require_range("ceiling_c", self.ceiling_c, 0.0, 2500.0)
        require_range("power_kw", self.power_kw, 0.0, 10000.0)
        require_range("ambient_c", self.ambient_c, -40.0, 60.0)
        if self.tau_low_h is not None:
            require_range("tau_low_h", self.tau_low_h, 0.01, 200.0)
        if self.ramp_limit_c_per_h is not None:
            require_range("ramp_limit_c_per_h", self.ramp_limit_c_per_h, 0.1, 100000.0)
        if self.ceiling_c <= self.ambient_c:
            raise CeilingBelowAmbient(field="ceiling_c", ceiling_c=self.ceiling_c, ambient_c=self.ambient_c)
        self._require_door()

    def _require_door(self) -> None:
        if self.door_c is None:
            return
        require_range("door_c", self.door_c, -40.0, 1000.0)
        if self.door_c <= self.ambient_c:
            raise DoorBelowAmbient(field="door_c", target_c=self.door_c, ambient_c=self.ambient_c)
        if self.door_c > HOTTEST_DOOR_C:
            raise DoorTooHot(field="door_c", door_c=self.door_c, limit_c=HOTTEST_DOOR_C)

    @property
    def opening_c(self) -> float:
        """The temperature at which the door may be opened."""
        if self.door_c is not None:
            return self.door_c
        return min(HOTTEST_DOOR_C, max(DOOR_C, self.ambient_c + DOOR_ABOVE_AMBIENT_K))

    def cooling_ranges(self, from_c: float, to_c: float) -> Iterator[CoolingRange]:
        """The way down, divided exactly where the time constant changes."""
        if self.tau_low_h is None:
            yield CoolingRange(tau_h=self.tau_h, from_c=from_c, to_c=to_c)
            return
        if from_c > self.split_c:
            yield CoolingRange(tau_h=self.tau_h, from_c=from_c, to_c=max(to_c, self.split_c))
        if to_c < self.split_c:
            yield CoolingRange(tau_h=self.tau_low_h, from_c=min(from_c, self.split_c), to_c=to_c)

    def fastest_cooling_c_per_h(self, from_c: float, to_c: float) -> float:
        """The fastest the body can fall by itself anywhere on the way down."""
        return max((part.from_c - self.ambient_c) / part.tau_h for part in self.cooling_ranges(from_c, to_c))

    def full_power_c_per_h(self, at_c: float) -> float:
        """The rise at full power from a temperature."""
        return (self.ceiling_c - at_c) / self.tau_h

    def capped_ramp_c_per_h(self, rate_c_per_h: float | None) -> float:
        """A heating rate, none meaning as fast as it goes, held to the equipment's ramp limit."""
        asked = math.inf if rate_c_per_h is None else rate_c_per_h
        limit = math.inf if self.ramp_limit_c_per_h is None else self.ramp_limit_c_per_h
        return min(asked, limit)

    def cooled_c(self, from_c: float, minutes: float) -> float:
        """The temperature after some minutes with the heat off."""
        left_h = minutes / 60
        for part in self.cooling_ranges(from_c, -math.inf):
            needs_h = _log_time_h(part, self.ambient_c)
            if left_h <= needs_h:
                return self.ambient_c + (part.from_c - self.ambient_c) * math.exp(-left_h / part.tau_h)
            left_h -= needs_h
        return self.ambient_c


def _log_time_h(part: CoolingRange, ambient_c: float) -> float:
    """Hours to fall through a range by itself; without end where the range goes down to ambient."""
    if part.to_c <= ambient_c:
        return math.inf
    return part.tau_h * math.log((part.from_c - ambient_c) / (part.to_c - ambient_c))
