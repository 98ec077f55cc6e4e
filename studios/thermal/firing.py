"""A firing planned from what goes in and what it goes into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from studios.thermal.body import HOTTEST_DOOR_C, Body
from studios.thermal.controller import fit_controller
from studios.thermal.curve import Curve, end_to_end, whole_minutes_up
from studios.thermal.energy import energy_kwh, switching_min
from studios.thermal.errors import (
    AboveCeiling,
    AnnealingPointsDiffer,
    NoHold,
    NothingToFire,
    RecipeTooCool,
    TooHotToLoad,
    require_range,
)
from studios.thermal.limits import LoadLimits, kept_stress_mpa, load_limits
from studios.thermal.moments import TOUCH_C, Moments, touch_min
from studios.thermal.phases import Phase
from studios.thermal.piece import Piece
from studios.thermal.policy import DEFAULT_POLICY, Policy, compatible
from studios.thermal.program import (
    Lag,
    Leg,
    Segment,
    asked,
    follow,
    got,
    heat_and_process,
    heat_and_soak,
    lags,
    legs,
    points,
    soak_and_cool,
    to_hold,
)
from studios.thermal.recipe import NEEDS, Recipe
from studios.thermal.report import StressLine, stress_report

LONGEST_WORKING_MIN = 14 * 24 * 60.0


@dataclass(frozen=True, kw_only=True)
class FiringPlan:
    """A firing: the program asked, the curve the body makes of it, and the stress it leaves.

    Pieces put away hot (anneal): `heat_up` runs until the annealer may take the first piece, and `tail` from
    the last piece in to the open door; between them it is held for the working hours. Kiln programs:
    `heat_up` has no length, `tail` runs from door closed to door open. `segments` is what a controller is
    given; `before` and `after` are its stages up to the last piece in and from there on, asked and got.
    """

    recipe: Recipe
    pieces: tuple[Piece, ...]
    governing: Piece
    body: Body
    policy: Policy
    hold_c: float
    strain_c: float
    segments: tuple[Segment, ...]
    before: tuple[Leg, ...]
    after: tuple[Leg, ...]
    working_min: float = 0.0

    @cached_property
    def heat_up(self) -> Curve:
        """Until the annealer may take the first piece."""
        ways = (piece for leg in self.before for piece in leg.got)
        return end_to_end(piece for piece in ways if piece.phase is not Phase.HOLDING)

    @cached_property
    def tail(self) -> Curve:
        """From the last piece in, or the door closed, to the open door."""
        return got(self.after)

    @property
    def heat_up_min(self) -> int:
        return self.heat_up.whole_min

    @property
    def tail_min(self) -> int:
        return self.tail.whole_min

    @cached_property
    def curve(self) -> Curve:
        """The temperature the equipment really has, from the start to the open door."""
        return got((*self.before, *self.after))

    @cached_property
    def asked(self) -> Curve:
        """The temperature the program asks for."""
        return asked((*self.before, *self.after))

    @property
    def asked_tail(self) -> tuple[tuple[float, float], ...]:
        """What the program asks for from the start of `tail` on: (minute, °C), joined by straight lines."""
        return points(asked(self.after))

    @cached_property
    def lags(self) -> tuple[Lag, ...]:
        """Where the equipment cannot follow."""
        return lags((*self.before, *self.after))

    @cached_property
    def switching_min(self) -> int:
        """How long from the start of the tail the controller may switch the heat on: full connected draw."""
        return whole_minutes_up(switching_min(self.after))

    @cached_property
    def energy_kwh(self) -> float:
        """What it takes from the start to the open door."""
        return energy_kwh(self.curve, self.body)

    @cached_property
    def stress(self) -> tuple[StressLine, ...]:
        """What it leaves and what it passes, against what is permitted."""
        return stress_report(
            self.pieces,
            self.tail,
            self.policy,
            hold_c=self.hold_c,
            annealed=self.recipe is not Recipe.BATCH_ANNEAL,
        )

    @cached_property
    def kept_stress_mpa(self) -> float:
        """The greatest tension that a piece of the load keeps in its middle, by the classical formula."""
        able = self.body.fastest_cooling_c_per_h(self.hold_c, self.strain_c)
        slowest = min(leg.segment.rate_c_per_h or able for leg in self.after if _anneals(leg))
        return max(kept_stress_mpa(piece, min(slowest, able)) for piece in self.pieces)

    def moments(self, touch_c: float = TOUCH_C) -> Moments:
        """The moments people wait for, in minutes from the start of `curve`."""
        begins_min = self.curve.duration_min - self.tail.duration_min
        soaks = [piece for piece in self.tail.pieces if piece.phase is Phase.SOAK]
        anneals = self.recipe is Recipe.ANNEAL
        return Moments(
            at_hold_min=self.heat_up.duration_min if anneals else begins_min + soaks[0].starts_min,
            soak_ends_min=begins_min + soaks[-1].ends_min,
            below_strain_min=self.curve.falls_to(self.strain_c),
            may_open_min=self.curve.duration_min,
            may_touch_min=touch_min(self.body, self.curve, touch_c),
        )


def _anneals(leg: Leg) -> bool:
    return leg.segment.phase is Phase.ANNEALING


def plan_firing(
    *,
    recipe: Recipe,
    pieces: Sequence[Piece],
    body: Body,
    policy: Policy = DEFAULT_POLICY,
    start_c: float | None = None,
    working_min: float = 0.0,
    most_segments: int | None = None,
) -> FiringPlan:
    """The program and the hours follow from glass, thickness, mounting, equipment and door temperature.

    `start_c` is what the equipment has at the start; None means ambient. `working_min` is how long an
    annealer is held while pieces come, where that is known. `most_segments` is what the controller takes.
    Pieces that share a firing agree on the annealing temperature within the policy's tolerance; the one that
    needs the longest night governs, and the annealing point of its glass is the hold temperature. Every rate
    and the soak suit every piece.

    Raises NothingToFire, AnnealingPointsDiffer, RecipeTooCool, AboveCeiling, TooHotToLoad, NoHold,
    TooFewSegments or OutOfRange.
    """
    begins_c = body.ambient_c if start_c is None else start_c
    require_range("start_c", begins_c, -40.0, 2500.0)
    require_range("working_min", working_min, 0.0, LONGEST_WORKING_MIN)
    if begins_c > body.ceiling_c:
        raise AboveCeiling(field="start_c", target_c=begins_c, ceiling_c=body.ceiling_c)
    different = tuple(dict.fromkeys(pieces))
    _require_shared_annealing(different, policy)
    governing = governing_piece(different, body, policy)
    limits = load_limits(
        different, policy, governing.glass.annealing_c, annealed=recipe is not Recipe.BATCH_ANNEAL
    )
    _require_reach(body, limits.hold_c)
    first, then = _stages(
        recipe, different, limits, body=body, policy=policy, begins_c=begins_c, working_min=working_min
    )
    fitted = fit_controller(body, begins_c, (*first, *then), most_segments)
    before, after = fitted.stages[: len(first)], fitted.stages[len(first) :]
    return FiringPlan(
        recipe=recipe,
        pieces=different,
        governing=governing,
        body=body,
        policy=policy,
        hold_c=limits.hold_c,
        strain_c=limits.strain_c,
        segments=fitted.keyed,
        before=legs(body, begins_c, before),
        after=legs(body, limits.hold_c if first else begins_c, after),
        working_min=working_min,
    )


Stages = list[Segment]


def _stages(
    recipe: Recipe,
    pieces: Sequence[Piece],
    limits: LoadLimits,
    *,
    body: Body,
    policy: Policy,
    begins_c: float,
    working_min: float,
) -> tuple[Stages, Stages]:
    """The stages until the last piece is in, and from there on."""
    if recipe is Recipe.ANNEAL:
        return [to_hold(body, limits, begins_c, working_min)], soak_and_cool(body, limits, Phase.SOAK)
    if working_min:
        raise NoHold(field="working_min", recipe=recipe.value.replace("-", " "))
    if begins_c > HOTTEST_DOOR_C:
        raise TooHotToLoad(field="start_c", start_c=begins_c, limit_c=HOTTEST_DOOR_C)
    if recipe is Recipe.BATCH_ANNEAL:
        return [], heat_and_soak(body, limits, begins_c)
    process = policy.process(recipe)
    _require_reach(body, process.process_c)
    _require_hot_enough(recipe, process.process_c, pieces)
    heating = heat_and_process(body, limits, process, begins_c)
    return [], heating + soak_and_cool(body, limits, Phase.COOLING)


def governing_piece(pieces: Sequence[Piece], body: Body, policy: Policy) -> Piece:
    """The piece that alone would make the longest tail: found, not assumed. The thicker one on a tie."""
    if len(pieces) == 1:
        return pieces[0]
    return max(pieces, key=lambda piece: (_tail_alone_min(piece, body, policy), piece.thickest_mm))


def _tail_alone_min(piece: Piece, body: Body, policy: Policy) -> float:
    limits = load_limits([piece], policy, piece.glass.annealing_c)
    return follow(body, limits.hold_c, soak_and_cool(body, limits, Phase.SOAK)).duration_min


def _require_shared_annealing(pieces: Sequence[Piece], policy: Policy) -> None:
    if not pieces:
        raise NothingToFire(field="pieces")
    coolest = min((piece.glass for piece in pieces), key=lambda glass: glass.annealing_c)
    hottest = max((piece.glass for piece in pieces), key=lambda glass: glass.annealing_c)
    if not compatible(coolest, hottest, policy):
        raise AnnealingPointsDiffer(
            field="pieces",
            first=coolest.name,
            first_c=coolest.annealing_c,
            second=hottest.name,
            second_c=hottest.annealing_c,
            tolerance_k=policy.sharing_tolerance_k,
        )


def _require_hot_enough(recipe: Recipe, process_c: float, pieces: Sequence[Piece]) -> None:
    for piece in pieces:
        needed_c = NEEDS[recipe](piece.glass)
        if needed_c > process_c:
            raise RecipeTooCool(
                field="recipe",
                glass=piece.glass.name,
                recipe=recipe.value.replace("-", " "),
                needed_c=needed_c,
                process_c=process_c,
            )


def _require_reach(body: Body, target_c: float) -> None:
    if target_c >= body.ceiling_c:
        raise AboveCeiling(field="body", target_c=target_c, ceiling_c=body.ceiling_c)
