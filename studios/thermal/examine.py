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
from studios.thermal.program import Lag, Leg, Segment, asked, got, lags, legs, require_program
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

    Each segment is taken to begin when the body has come to the end of the one before; with a controller that
    does not wait, a slow segment after one the body cannot follow may be passed faster than told.

    Raises NothingToFire, EmptyProgram, OutOfRange, NoCoolingStage, AboveCeiling or NeverCools.
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
    soaked = [_soaked(piece, tuple(_holds(run)), policy) for piece in dict.fromkeys(pieces)]
    return Examined(
        asked=asked(run),
        got=curve,
        lags=lags(run),
        stress=tuple(
            line
            for held, soak_line in soaked
            for line in stress_report(
                [soak_line.piece], curve, policy, hold_c=held.at_c, soaked_min=held.ends_min
            )
        ),
        soaks=tuple(soak_line for _, soak_line in soaked),
    )


@dataclass(frozen=True, kw_only=True)
class _Held:
    """A hold of the program: so many minutes at a temperature, over at a minute of the curve."""

    at_c: float
    minutes: float
    ends_min: float


def _holds(run: Sequence[Leg]) -> Iterator[_Held]:
    """Each hold once, also where two segments make it."""
    now_min = 0.0
    held: _Held | None = None
    for leg in run:
        now_min += leg.got_min
        at_c, minutes = leg.segment.target_c, leg.segment.hold_min
        if held is not None and held.at_c == at_c:
            held = _Held(at_c=at_c, minutes=held.minutes + minutes, ends_min=now_min)
            continue
        if held is not None:
            yield held
        held = _Held(at_c=at_c, minutes=minutes, ends_min=now_min)
    if held is not None:
        yield held


def _soaked(piece: Piece, holds: Sequence[_Held], policy: Policy) -> tuple[_Held, SoakLine]:
    """The last hold that is long enough for this glass to relax, else the one that comes nearest to it.

    A short stop on the way down takes nothing from a soak that was long enough. Without any hold where the
    glass relaxes, what counts is the whole way down from its annealing point.
    """
    glass = piece.glass
    relaxing = [
        held
        for held in holds
        if held.minutes > 0 and glass.strain_c <= held.at_c <= glass.annealing_c + ABOVE_ANNEALING_K
    ]
    if not relaxing:
        none = _Held(at_c=glass.annealing_c, minutes=0.0, ends_min=0.0)
        return none, _soak_line(piece, none, policy)
    found = [(held, _soak_line(piece, held, policy)) for held in relaxing]
    enough = [each for each in found if each[1].within]
    return enough[-1] if enough else max(found, key=lambda each: each[1].held_min / each[1].needed_min)


def _soak_line(piece: Piece, held: _Held, policy: Policy) -> SoakLine:
    needed = soak(piece, policy, min(held.at_c, piece.glass.annealing_c))
    return SoakLine(piece=piece, held_min=held.minutes, needed_min=needed.minutes)
