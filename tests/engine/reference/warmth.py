"""How long equipment is heated and fired, by the closed forms of the thermal model, minute after minute."""

from __future__ import annotations

from functools import lru_cache

from scheduling.engine.records import Apparatus
from studios.thermal import Body, FiringPlan, Piece, Policy, Recipe, ThermalError, heat_up_curve, plan_firing


def record_at(apparatus: Apparatus, minute: int) -> Body | None:
    """The last thermal record that has begun by then, else the first that there is."""
    in_force = None
    for since, body in apparatus.bodies:
        if in_force is None or since <= minute:
            in_force = body
    return in_force


@lru_cache(maxsize=100_000)
def from_cold(body: Body, working_c: float) -> int | None:
    """Minutes from the temperature of the room to the working temperature; None: it never gets there."""
    try:
        return heat_up_curve(body, from_c=body.ambient_c, to_c=working_c).whole_min
    except ThermalError:
        return None


@lru_cache(maxsize=100_000)
def back_in(body: Body, working_c: float, cooled_min: int) -> int:
    """Minutes to the working temperature after so many without heat."""
    cooled = body.cooled_c(working_c, cooled_min)
    return heat_up_curve(body, from_c=cooled, to_c=working_c).whole_min


@lru_cache(maxsize=200_000)
def after_a_gap(body: Body, working_c: float, gap_min: int) -> int | None:
    """The fewest minutes of heating, at the end of a gap between two uses, that make its cooling good."""
    if from_cold(body, working_c) is None:
        return None
    return next(heat for heat in range(gap_min + 1) if back_in(body, working_c, gap_min - heat) <= heat)


@lru_cache(maxsize=10_000)
def program(
    recipe: Recipe, pieces: tuple[Piece, ...], body: Body, policy: Policy, segments: int | None
) -> FiringPlan | None:
    """The program for these pieces; None: this equipment cannot fire them."""
    try:
        return plan_firing(recipe=recipe, pieces=pieces, body=body, policy=policy, most_segments=segments)
    except ThermalError:
        return None
