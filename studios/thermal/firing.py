"""A firing planned from what goes in and what it goes into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from studios.thermal.body import HOTTEST_DOOR_C, Body
from studios.thermal.curve import Curve
from studios.thermal.errors import (
    AboveCeiling,
    AnnealingPointsDiffer,
    NothingToFire,
    RecipeTooCool,
    TooHotToLoad,
    require_range,
)
from studios.thermal.limits import LoadLimits, kept_stress_mpa, load_limits
from studios.thermal.motion import heat_up_curve
from studios.thermal.phases import Phase
from studios.thermal.piece import Piece
from studios.thermal.policy import DEFAULT_POLICY, Policy, compatible
from studios.thermal.program import Segment, follow, heat_and_process, soak_and_cool, to_hold
from studios.thermal.recipe import PROCESSES, Process, Recipe


@dataclass(frozen=True, kw_only=True)
class FiringPlan:
    """A firing: the program asked, the curve the body makes of it, and the stress it leaves.

    Pieces put away hot (anneal): `heat_up` runs until the annealer may take the first piece, and `tail` from
    the last piece in to the open door. Kiln programs: `heat_up` has no length, `tail` runs from door
    closed to door open.
    """

    recipe: Recipe
    governing: Piece
    hold_c: float
    segments: tuple[Segment, ...]
    heat_up: Curve
    tail: Curve
    kept_stress_mpa: float

    @property
    def heat_up_min(self) -> int:
        return self.heat_up.whole_min

    @property
    def tail_min(self) -> int:
        return self.tail.whole_min


def plan_firing(
    *,
    recipe: Recipe,
    pieces: Sequence[Piece],
    body: Body,
    policy: Policy = DEFAULT_POLICY,
    start_c: float | None = None,
) -> FiringPlan:
    """The program and the hours follow from glass, thickness, mounting, equipment and door temperature.

    `start_c` is what the equipment has at the start; None means ambient. Pieces that share a firing agree on
    the annealing temperature within the policy's tolerance; the one that needs the longest night governs, and
    the annealing point of its glass is the hold temperature. Every rate and the soak suit every piece.

    Raises NothingToFire, AnnealingPointsDiffer, RecipeTooCool, AboveCeiling, TooHotToLoad or OutOfRange.
    """
    begins_c = body.ambient_c if start_c is None else start_c
    require_range("start_c", begins_c, -40.0, 2500.0)
    different = tuple(dict.fromkeys(pieces))
    _require_shared_annealing(different, policy)
    governing = governing_piece(different, body, policy)
    limits = load_limits(different, policy, governing.glass.annealing_c)
    _require_reach(body, limits.hold_c)
    kept = _kept_mpa(different, body, limits)
    if recipe is Recipe.ANNEAL:
        return _anneal(governing, kept, limits, body, begins_c)
    process = PROCESSES[recipe]
    _require_process(recipe, process, different, body, begins_c)
    segments = heat_and_process(body, limits, process, begins_c) + soak_and_cool(body, limits, Phase.COOLING)
    return FiringPlan(
        recipe=recipe,
        governing=governing,
        hold_c=limits.hold_c,
        segments=tuple(segments),
        heat_up=Curve(),
        tail=follow(body, begins_c, segments),
        kept_stress_mpa=kept,
    )


def governing_piece(pieces: Sequence[Piece], body: Body, policy: Policy) -> Piece:
    """The piece that alone would make the longest tail: found, not assumed. The thicker one on a tie."""
    if len(pieces) == 1:
        return pieces[0]
    return max(pieces, key=lambda piece: (_tail_alone_min(piece, body, policy), piece.thickness_mm))


def _tail_alone_min(piece: Piece, body: Body, policy: Policy) -> float:
    limits = load_limits([piece], policy, piece.glass.annealing_c)
    return follow(body, limits.hold_c, soak_and_cool(body, limits, Phase.SOAK)).duration_min


def _anneal(governing: Piece, kept: float, limits: LoadLimits, body: Body, begins_c: float) -> FiringPlan:
    tail = soak_and_cool(body, limits, Phase.SOAK)
    return FiringPlan(
        recipe=Recipe.ANNEAL,
        governing=governing,
        hold_c=limits.hold_c,
        segments=(to_hold(body, limits), *tail),
        heat_up=heat_up_curve(body, from_c=begins_c, to_c=limits.hold_c),
        tail=follow(body, limits.hold_c, tail),
        kept_stress_mpa=kept,
    )


def _kept_mpa(pieces: Sequence[Piece], body: Body, limits: LoadLimits) -> float:
    able = body.fastest_cooling_c_per_h(limits.hold_c, limits.strain_c)
    rate = min(limits.annealing.rate_c_per_h, able)
    return max(kept_stress_mpa(piece, rate) for piece in pieces)


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


def _require_process(
    recipe: Recipe, process: Process, pieces: Sequence[Piece], body: Body, begins_c: float
) -> None:
    _require_reach(body, process.process_c)
    if begins_c > HOTTEST_DOOR_C:
        raise TooHotToLoad(field="start_c", start_c=begins_c, limit_c=HOTTEST_DOOR_C)
    for piece in pieces:
        needed_c = process.needs_c(piece.glass)
        if needed_c > process.process_c:
            raise RecipeTooCool(
                field="recipe",
                glass=piece.glass.name,
                recipe=recipe.value,
                needed_c=needed_c,
                process_c=process.process_c,
            )


def _require_reach(body: Body, target_c: float) -> None:
    if target_c >= body.ceiling_c:
        raise AboveCeiling(field="body", target_c=target_c, ceiling_c=body.ceiling_c)
