"""A technician's own program, held against the glass that goes into it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from studios.thermal.body import Body
from studios.thermal.curve import Curve, end_to_end
from studios.thermal.errors import NothingToFire, require_range
from studios.thermal.limits import soak
from studios.thermal.motion import falling
from studios.thermal.phases import Phase
from studios.thermal.piece import Piece
from studios.thermal.policy import DEFAULT_POLICY, Policy
from studios.thermal.program import Lag, Segment, asked, got, lags, legs, require_program
from studios.thermal.report import StressLine, stress_report

# Stress relaxes in a time that anybody waits for from the strain point to a little above annealing.
ABOVE_ANNEALING_K = 30.0


@dataclass(frozen=True, kw_only=True)
class SoakLine:
    """How long a piece is held where its stress relaxes, and how long it needs there, in minutes."""

    piece: Piece
    held_min: float
    needed_min: float

    @property
    def within(self) -> bool:
        return self.held_min >= self.needed_min


@dataclass(frozen=True, kw_only=True)
class Examined:
    """What a program asks, what the equipment makes of it, and what that means for the glass."""

    asked: Curve
    got: Curve
    lags: tuple[Lag, ...]
    stress: tuple[StressLine, ...]
    soaks: tuple[SoakLine, ...]

    @property
    def within(self) -> bool:
        """Whether every stress and every soak is permitted."""
        return all(line.within for line in self.stress) and all(line.within for line in self.soaks)


def examine_program(
    *,
    segments: Sequence[Segment],
    pieces: Sequence[Piece],
    body: Body,
    policy: Policy = DEFAULT_POLICY,
    start_c: float | None = None,
) -> Examined:
    """The curve to the open door, the stresses and the soaks of a program that somebody wrote.

    A controller is taken to wait at each hold until the body is there. Raises NothingToFire, EmptyProgram,
    OutOfRange, NoCoolingStage, AboveCeiling or NeverCools.
    """
    if not pieces:
        raise NothingToFire(field="pieces")
    begins_c = body.ambient_c if start_c is None else start_c
    require_range("start_c", begins_c, -40.0, 2500.0)
    require_program(segments, begins_c, min(piece.glass.strain_c for piece in pieces))
    run = legs(body, begins_c, segments)
    curve = got(run)
    end_c = segments[-1].target_c
    if end_c > body.opening_c:
        rest = falling(body, from_c=end_c, to_c=body.opening_c, rate_c_per_h=None, phase=Phase.COOLING)
        curve = end_to_end((*curve.pieces, *rest))
    different = tuple(dict.fromkeys(pieces))
    soaks = tuple(_soak(piece, segments, policy) for piece in different)
    return Examined(
        asked=asked(run),
        got=curve,
        lags=lags(run),
        stress=tuple(_stress(different, segments, curve, policy)),
        soaks=soaks,
    )


def _stress(
    pieces: Sequence[Piece], segments: Sequence[Segment], curve: Curve, policy: Policy
) -> Iterator[StressLine]:
    for piece in pieces:
        last = _last_hold(piece, segments)
        hold_c = piece.glass.annealing_c if last is None else last.target_c
        yield from stress_report([piece], curve, policy, hold_c=hold_c)


def _soak(piece: Piece, segments: Sequence[Segment], policy: Policy) -> SoakLine:
    last = _last_hold(piece, segments)
    hold_c = piece.glass.annealing_c if last is None else min(last.target_c, piece.glass.annealing_c)
    return SoakLine(
        piece=piece,
        held_min=0.0 if last is None else last.hold_min,
        needed_min=soak(piece, policy, hold_c).minutes,
    )


def _last_hold(piece: Piece, segments: Sequence[Segment]) -> Segment | None:
    """The last hold in which this glass relaxes."""
    low_c, high_c = piece.glass.strain_c, piece.glass.annealing_c + ABOVE_ANNEALING_K
    holds = [each for each in segments if each.hold_min > 0 and low_c <= each.target_c <= high_c]
    return holds[-1] if holds else None
