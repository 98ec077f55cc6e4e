"""A firing that departs from its plan: how its program, or the body alone, goes on from a temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from studios.thermal.curve import Curve, whole_minutes_up
from studios.thermal.energy import switching_min
from studios.thermal.firing import FiringPlan
from studios.thermal.limits import load_limits
from studios.thermal.motion import cool_down_curve
from studios.thermal.phases import Phase
from studios.thermal.program import Leg, Segment, got, heat_and_process, heat_to, legs, soak_and_cool
from studios.thermal.recipe import PROCESSES
from studios.thermal.report import Stress, StressLine, stress_report


@dataclass(frozen=True, kw_only=True)
class Onward:
    """What follows from a moment on, and how long from there the controller may switch the heat on."""

    run: tuple[Leg, ...]

    @cached_property
    def curve(self) -> Curve:
        """What the body makes of it, to the open door."""
        return got(self.run)

    @property
    def switching_min(self) -> int:
        """Full connected draw for so long."""
        return whole_minutes_up(switching_min(self.run))


def soaks(plan: FiringPlan) -> Onward:
    """From the beginning of the soak, at the holding temperature, to the open door."""
    at = _soak_at(plan)
    return Onward(run=legs(plan.body, plan.hold_c, _segments(plan)[at:]))


def cools_on(plan: FiringPlan, from_c: float) -> Onward:
    """The slower of what is left of the program from a temperature and the body's own cooling."""
    stages = _segments(plan)[_soak_at(plan) + 1 :]
    left = [segment for segment in stages if segment.target_c < from_c]
    return Onward(run=legs(plan.body, from_c, left))


def cools_freely(plan: FiringPlan, from_c: float) -> Curve:
    """The heat is off: the body cools by itself to the open door; no length where it is cool enough."""
    return cool_down_curve(plan.body, from_c=from_c, to_c=plan.body.opening_c)


def fired_again(plan: FiringPlan, from_c: float, *, whole: bool) -> Onward:
    """Glass that lost its heat is brought back: through the `whole` program, or to be annealed again.

    It was never annealed to the end, so it is heated as gently as glass that carries stress of its own.
    """
    body = plan.body
    limits = load_limits(plan.pieces, plan.policy, plan.hold_c, annealed=False)
    first: list[Segment] = []
    if whole and plan.recipe in PROCESSES:
        process = plan.policy.process(plan.recipe)
        first = heat_and_process(body, limits, process, min(from_c, process.squeeze_c or process.process_c))
    elif from_c < plan.hold_c:
        first = heat_to(body, limits, from_c=from_c, to_c=plan.hold_c, hold_min=0)
    arriving = Phase.COOLING if whole else Phase.SOAK
    return Onward(run=legs(body, from_c, [*first, *soak_and_cool(body, limits, arriving)]))


def processed_min(plan: FiringPlan) -> float:
    """How long after its program began a kiln has done what it is fired for, and only anneals on."""
    return sum(leg.got_min for leg in plan.after[: _soak_at(plan)])


def overstressed(plan: FiringPlan, curve: Curve) -> tuple[StressLine, ...]:
    """The pieces that a way down below the strain point strains by more than the passing stress permitted."""
    report = stress_report(plan.pieces, curve, plan.policy, hold_c=plan.hold_c)
    return tuple(line for line in report if line.what is Stress.COOLING and not line.within)


def _segments(plan: FiringPlan) -> Sequence[Segment]:
    return [leg.segment for leg in plan.after]


def _soak_at(plan: FiringPlan) -> int:
    """Which stage from the last piece in on, or from the closed door, is the soak."""
    return next(
        at
        for at, segment in enumerate(_segments(plan))
        if segment.hold_phase is Phase.SOAK and segment.hold_min > 0
    )
