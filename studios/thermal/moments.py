"""The moments of a firing that people wait for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from studios.thermal.body import Body
from studios.thermal.curve import Curve
from studios.thermal.motion import cool_down_curve

# Warm, and no longer hot, to a bare hand: common practice, no source.
TOUCH_C = 40.0


@dataclass(frozen=True, kw_only=True)
class Moments:
    """Minutes from the start of the whole curve.

    `at_hold_min`: an annealer is ready for the first piece; a kiln begins its soak. `may_touch_min` reckons
    with the door shut, so it is on the safe side; None where the room itself is warmer than that.
    """

    at_hold_min: float
    soak_ends_min: float
    below_strain_min: float
    may_open_min: float
    may_touch_min: float | None

    def named(self) -> Iterator[tuple[str, float]]:
        yield "at hold", self.at_hold_min
        yield "soak ends", self.soak_ends_min
        yield "below the strain point", self.below_strain_min
        yield "may be opened", self.may_open_min
        if self.may_touch_min is not None:
            yield "may be touched", self.may_touch_min


def touch_min(body: Body, curve: Curve, touch_c: float) -> float | None:
    """When what is inside may be touched, cooling on by itself after the curve. None: never, in this room."""
    end_c = curve.temperature_at(curve.duration_min)
    if end_c <= touch_c:
        return curve.falls_to(touch_c)
    if touch_c <= body.ambient_c:
        return None
    return curve.duration_min + cool_down_curve(body, from_c=end_c, to_c=touch_c).duration_min
