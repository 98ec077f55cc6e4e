"""The stress a firing leaves and the stress it passes through, against what is permitted.

Known bias, stated wherever a figure is shown: the classical stress is about 60 % of the residual stress of
real sheet cooled at a steady rate (Gardon and Narayanaswamy, J. Am. Ceram. Soc. 53 (1970) 380).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from studios.thermal import stress
from studios.thermal.curve import ROUNDING_MIN, Curve, CurvePiece
from studios.thermal.limits import PA_PER_MPA
from studios.thermal.motion import MIN_PER_H
from studios.thermal.piece import Piece
from studios.thermal.policy import Policy

CLASSICAL_SHARE = 0.6


class Stress(StrEnum):
    """Which stress, in words that are shown."""

    HEATING = "passing, in the middle while heating"
    KEPT = "kept, in the middle"
    COOLING = "passing, at the surface while cooling"


@dataclass(frozen=True, kw_only=True)
class StressLine:
    """One stress of one piece: the fastest rate of the curve in its range (°C/h) and what it makes of it."""

    piece: Piece
    what: Stress
    rate_c_per_h: float
    classical_mpa: float
    permitted_mpa: float

    @property
    def within(self) -> bool:
        """Whether it is permitted, to the last figure of a float."""
        return self.classical_mpa <= self.permitted_mpa * (1 + 1e-9)

    @property
    def likely_mpa(self) -> float:
        """What to reckon with: the classical figure is about 60 % of it."""
        return self.classical_mpa / CLASSICAL_SHARE


def stress_report(
    pieces: Sequence[Piece],
    curve: Curve,
    policy: Policy,
    *,
    hold_c: float,
    annealed: bool = True,
    soaked_min: float = 0.0,
) -> tuple[StressLine, ...]:
    """Three lines for each different piece. `annealed`: whether it was before it was heated.

    What cooled above the hold, or before the soak was over (`soaked_min`), does not count: it relaxes.
    """
    return tuple(
        line
        for piece in dict.fromkeys(pieces)
        for line in _of_piece(piece, curve, policy, hold_c=hold_c, annealed=annealed, soaked_min=soaked_min)
    )


def _of_piece(
    piece: Piece, curve: Curve, policy: Policy, *, hold_c: float, annealed: bool, soaked_min: float
) -> Iterator[StressLine]:
    glass, path_m = piece.glass, piece.half_or_full_path_m
    share = 1.0 if annealed else policy.unannealed_share
    after = Curve(pieces=tuple(part for part in curve.pieces if part.starts_min >= soaked_min - ROUNDING_MIN))
    rows = (
        (Stress.HEATING, heating_rate(curve, glass.annealing_c), share * policy.passing_mpa),
        (Stress.KEPT, cooling_rate(after, min(hold_c, glass.annealing_c), glass.strain_c), policy.kept_mpa),
        (Stress.COOLING, cooling_rate(curve, glass.strain_c, -300.0), policy.passing_mpa),
    )
    for what, rate, permitted_mpa in rows:
        made_pa = stress.surface_stress_pa if what is Stress.COOLING else stress.centre_stress_pa
        yield StressLine(
            piece=piece,
            what=what,
            rate_c_per_h=rate,
            classical_mpa=made_pa(piece.form, glass, path_m, rate) / PA_PER_MPA,
            permitted_mpa=permitted_mpa,
        )


def heating_rate(curve: Curve, until_c: float) -> float:
    """The fastest rise below a temperature, °C/h."""
    rising = (piece for piece in curve.pieces if piece.to_c > piece.from_c and piece.from_c < until_c)
    return max((_steepest(piece, piece.from_c) for piece in rising), default=0.0)


def cooling_rate(curve: Curve, upper_c: float, lower_c: float) -> float:
    """The fastest fall between two temperatures, °C/h."""
    falling = (
        piece
        for piece in curve.pieces
        if piece.to_c < piece.from_c and piece.from_c > lower_c and piece.to_c < upper_c
    )
    return max((_steepest(piece, min(piece.from_c, upper_c)) for piece in falling), default=0.0)


def _steepest(piece: CurvePiece, from_c: float) -> float:
    """The rate at a temperature on a piece: an exponential is steepest where it begins."""
    if piece.toward_c is not None and piece.tau_min is not None:
        return abs(from_c - piece.toward_c) / piece.tau_min * MIN_PER_H
    return abs(piece.to_c - piece.from_c) / piece.duration_min * MIN_PER_H
