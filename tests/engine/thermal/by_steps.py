"""A kiln simulated in small steps, for checking closed forms against. It shares no formula with the model.

The heat balance: dT/dt = feed − (T − Ta)/τ, where the feed is what the controller gives, between nothing and
full power. The controller gives what keeps the asked rate, or as near as it can.
"""

from __future__ import annotations

from collections.abc import Callable

from studios.thermal import Body, Segment

STEP_MIN = 0.25


def slope_c_per_min(body: Body, at_c: float, asked_c_per_h: float) -> float:
    """What the body does when the controller asks for a rate (negative: falling)."""
    falling_in_low_range = asked_c_per_h < 0 and body.tau_low_h is not None and at_c <= body.split_c
    tau_h = body.tau_low_h if falling_in_low_range and body.tau_low_h else body.tau_h
    loss = (at_c - body.ambient_c) / tau_h
    full_feed = (body.ceiling_c - body.ambient_c) / body.tau_h
    feed = min(max(asked_c_per_h + loss, 0.0), full_feed)
    return (feed - loss) / 60


def minutes_to(slope: Callable[[float], float], from_c: float, to_c: float) -> float:
    """Runge-Kutta, fourth order, until the target is passed; the last step is divided in proportion."""
    at_c, minutes, up = from_c, 0.0, to_c > from_c
    while True:
        after_c = one_step(slope, at_c)
        if (after_c >= to_c) if up else (after_c <= to_c):
            return minutes + STEP_MIN * (to_c - at_c) / (after_c - at_c)
        at_c, minutes = after_c, minutes + STEP_MIN


def one_step(slope: Callable[[float], float], at_c: float) -> float:
    k1 = slope(at_c)
    k2 = slope(at_c + STEP_MIN / 2 * k1)
    k3 = slope(at_c + STEP_MIN / 2 * k2)
    k4 = slope(at_c + STEP_MIN * k3)
    return at_c + STEP_MIN / 6 * (k1 + 2 * k2 + 2 * k3 + k4)


def heating_min(body: Body, from_c: float, to_c: float, asked_c_per_h: float = 1e9) -> float:
    limit = body.ramp_limit_c_per_h or 1e9
    return minutes_to(lambda at: slope_c_per_min(body, at, min(asked_c_per_h, limit)), from_c, to_c)


def cooling_min(body: Body, from_c: float, to_c: float, asked_c_per_h: float = 1e9) -> float:
    return minutes_to(lambda at: slope_c_per_min(body, at, -asked_c_per_h), from_c, to_c)


def cooled_c(body: Body, from_c: float, minutes: int) -> float:
    at_c = from_c
    for _ in range(round(minutes / STEP_MIN)):
        at_c = one_step(lambda at: slope_c_per_min(body, at, -1e9), at_c)
    return at_c


def program_min(body: Body, start_c: float, segments: tuple[Segment, ...]) -> float:
    at_c, minutes = start_c, 0.0
    for segment in segments:
        asked = 1e9 if segment.rate_c_per_h is None else segment.rate_c_per_h
        if segment.target_c != at_c:
            move = heating_min if segment.target_c > at_c else cooling_min
            minutes += move(body, at_c, segment.target_c, asked)
        minutes += segment.hold_min
        at_c = segment.target_c
    return minutes
