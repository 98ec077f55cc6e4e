"""Heating and cooling in closed form: what a body does when asked for a rate it may not be able to follow."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator
from functools import lru_cache

from studios.thermal.body import Body, CoolingRange
from studios.thermal.curve import Curve, CurvePiece, end_to_end
from studios.thermal.errors import AboveCeiling, NeverCools, require_range
from studios.thermal.phases import Phase

MIN_PER_H = 60.0
LONGEST_GAP_MIN = 10_000_000  # nineteen years: anything longer is a slip


def warming(
    body: Body, *, from_c: float, to_c: float, rate_c_per_h: float | None, phase: Phase
) -> Iterator[CurvePiece]:
    """Heat at a rate, none meaning full power, never faster than the ramp limit.

    The body follows a straight line while full power has something to spare, T∞ − T > rate·τ, and from there
    on T∞ − (T∞ − T0)·exp(−t/τ). Raises AboveCeiling.
    """
    _require_below_ceiling(body, to_c)
    rate = body.capped_ramp_c_per_h(rate_c_per_h)
    knee_c = body.ceiling_c - rate * body.tau_h
    if from_c < min(knee_c, to_c):
        yield line(from_c, min(knee_c, to_c), rate, phase)
    start_c = max(from_c, knee_c)
    if start_c < to_c:
        yield _relaxing(start_c, to_c, body.ceiling_c, body.tau_h, phase)


def falling(
    body: Body, *, from_c: float, to_c: float, rate_c_per_h: float | None, phase: Phase
) -> Iterator[CurvePiece]:
    """Cool at a rate, none meaning with the heat off: the slower of the program and the body's own cooling.

    The body can follow while T − Ta > rate·τ; below that temperature it falls by itself,
    Ta + (T0 − Ta)·exp(−t/τ). Each range of a two-range record is taken with its own τ. Raises NeverCools.
    """
    if to_c <= body.ambient_c:
        raise NeverCools(field="to_c", target_c=to_c, ambient_c=body.ambient_c)
    for part in body.cooling_ranges(from_c, to_c):
        yield from _falling_range(part, body.ambient_c, rate_c_per_h, phase)


def _falling_range(
    part: CoolingRange, ambient_c: float, rate_c_per_h: float | None, phase: Phase
) -> Iterator[CurvePiece]:
    rate = math.inf if rate_c_per_h is None else rate_c_per_h
    knee_c = ambient_c + rate * part.tau_h
    if part.from_c > max(knee_c, part.to_c):
        yield line(part.from_c, max(knee_c, part.to_c), rate, phase)
    start_c = min(part.from_c, knee_c)
    if start_c > part.to_c:
        yield _relaxing(start_c, part.to_c, ambient_c, part.tau_h, phase)


def keeping(*, at_c: float, minutes: float, phase: Phase) -> CurvePiece:
    """A hold."""
    return CurvePiece(phase=phase, starts_min=0.0, ends_min=minutes, from_c=at_c, to_c=at_c)


@lru_cache(maxsize=1024)
def heat_up_curve(body: Body, *, from_c: float, to_c: float) -> Curve:
    """Heating at full power, never faster than the ramp limit; no length where it is hot enough."""
    _require_finite(from_c=from_c, to_c=to_c)
    if from_c >= to_c:
        return Curve()
    return end_to_end(warming(body, from_c=from_c, to_c=to_c, rate_c_per_h=None, phase=Phase.HEAT_UP))


@lru_cache(maxsize=1024)
def cool_down_curve(body: Body, *, from_c: float, to_c: float) -> Curve:
    """Cooling with the heat off; of no length where it is cool enough already. Raises NeverCools."""
    _require_finite(from_c=from_c, to_c=to_c)
    if from_c <= to_c:
        return Curve()
    return end_to_end(falling(body, from_c=from_c, to_c=to_c, rate_c_per_h=None, phase=Phase.COOLING))


def reheat_min(body: Body, *, gap_min: int, working_c: float) -> int:
    """How long before the next use a body must be lit again, having been hot when the last use ended.

    The smallest whole number of minutes h, at most the gap, such that the body left to cool for gap − h from
    its working temperature is back there after h at full power. The whole gap means that it is kept hot. The
    longer the gap, the nearer to a cold start. Raises AboveCeiling, NeverCools or OutOfRange.
    """
    require_range("gap_min", gap_min, 0, LONGEST_GAP_MIN)
    _require_finite(working_c=working_c)
    _require_below_ceiling(body, working_c, field="working_c")
    if working_c <= body.ambient_c:
        raise NeverCools(field="working_c", target_c=working_c, ambient_c=body.ambient_c)
    return bisect_left(reheat_limits(body, working_c), gap_min)


@lru_cache(maxsize=1024)
def reheat_limits(body: Body, working_c: float) -> tuple[int, ...]:
    """For each number of minutes of heating, from none, the longest gap that it bridges, up to a cold start.

    Heating for h minutes suffices for a gap when the body, left to cool for the rest of it, is back by then:
    the longest time to cool that h minutes make good, and h. From a cold start on no gap asks for more.
    """
    cold = heat_up_curve(body, from_c=body.ambient_c, to_c=working_c).whole_min
    limits: list[int] = []
    cooled = 0
    for minutes in range(cold):
        cooled = _longest_made_good(body, working_c, minutes, cooled)
        limits.append(cooled + minutes)
    return tuple(limits)


def _longest_made_good(body: Body, working_c: float, minutes: int, at_least: int) -> int:
    """The longest time to cool, not below one that is known to be, after which so much heating suffices."""
    good, step = at_least, 1
    while _back_in_min(body, good + step, working_c) <= minutes and good < LONGEST_GAP_MIN:
        good, step = good + step, step * 2
    bad = good + step
    while bad - good > 1:
        tried = (good + bad) // 2
        good, bad = (tried, bad) if _back_in_min(body, tried, working_c) <= minutes else (good, tried)
    return good


def _back_in_min(body: Body, cooled_min: int, working_c: float) -> int:
    return heat_up_curve(body, from_c=body.cooled_c(working_c, cooled_min), to_c=working_c).whole_min


def line(from_c: float, to_c: float, rate_c_per_h: float, phase: Phase) -> CurvePiece:
    minutes = abs(to_c - from_c) / rate_c_per_h * MIN_PER_H
    return CurvePiece(phase=phase, starts_min=0.0, ends_min=minutes, from_c=from_c, to_c=to_c)


def _relaxing(from_c: float, to_c: float, toward_c: float, tau_h: float, phase: Phase) -> CurvePiece:
    tau_min = tau_h * MIN_PER_H
    minutes = tau_min * math.log((from_c - toward_c) / (to_c - toward_c))
    return CurvePiece(
        phase=phase,
        starts_min=0.0,
        ends_min=minutes,
        from_c=from_c,
        to_c=to_c,
        toward_c=toward_c,
        tau_min=tau_min,
    )


def _require_below_ceiling(body: Body, target_c: float, field: str = "to_c") -> None:
    if target_c >= body.ceiling_c:
        raise AboveCeiling(field=field, target_c=target_c, ceiling_c=body.ceiling_c)


def _require_finite(**temperatures_c: float) -> None:
    for field, value in temperatures_c.items():
        require_range(field, value, -273.15, 3000.0)
