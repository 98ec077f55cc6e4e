"""How fast a load may be heated and cooled and how long it must soak, and which rule said so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from studios.thermal import stress
from studios.thermal.curve import whole_minutes_up
from studios.thermal.piece import Piece
from studios.thermal.policy import Ceilings, Policy, ceiling_c_per_h

PA_PER_MPA = 1e6


class Rule(StrEnum):
    """What governed a segment, in words that are shown beside it."""

    KEPT_STRESS = "kept stress"
    PASSING_STRESS = "passing stress"
    STUDIO_CEILING = "studio ceiling"
    EQUIPMENT = "equipment"
    STUDIO_FLOOR = "studio floor"
    RELAXATION = "relaxation"
    RECIPE = "recipe"
    SECOND_STAGE = "second stage"
    WORKING_HOURS = "working hours"


@dataclass(frozen=True, kw_only=True)
class Limit:
    """The fastest permitted rate (°C/h) and the rule that set it."""

    rate_c_per_h: float
    rule: Rule


@dataclass(frozen=True, kw_only=True)
class Soak:
    """The shortest permitted soak, in whole minutes as a controller takes it, and the rule that set it."""

    minutes: int
    rule: Rule


@dataclass(frozen=True, kw_only=True)
class LoadLimits:
    """What a whole load needs: each rule at its strictest over the pieces, so all of them are safe.

    `heating` holds until `brittle_until_c`, where the coldest part of each piece has passed its annealing
    point; `hot` from there on. Cooling has three stages: `annealing` to the strain point, `second` to
    `second_until_c`, `passing` from there on.
    """

    hold_c: float
    strain_c: float
    brittle_until_c: float
    heating: Limit
    hot: Limit
    soak: Soak
    annealing: Limit
    second: Limit
    second_until_c: float
    passing: Limit


def load_limits(
    pieces: Sequence[Piece], policy: Policy, hold_c: float, *, annealed: bool = True
) -> LoadLimits:
    """`annealed`: whether the pieces were annealed before they are heated, or only cooled in a blanket."""
    hot = Limit(rate_c_per_h=policy.fastest_heating_c_per_h, rule=Rule.STUDIO_CEILING)
    cold = (heating_limit(piece, policy, annealed=annealed) for piece in pieces)
    heating = min((hot, *cold), key=_rate)
    annealing = min((annealing_limit(piece, policy) for piece in pieces), key=_rate)
    passing = min((passing_limit(piece, policy) for piece in pieces), key=_rate)
    strain_c = min(piece.glass.strain_c for piece in pieces)
    return LoadLimits(
        hold_c=hold_c,
        strain_c=strain_c,
        brittle_until_c=max(_brittle_until_c(piece, heating.rate_c_per_h) for piece in pieces),
        heating=heating,
        hot=hot,
        soak=max((soak(piece, policy, hold_c) for piece in pieces), key=lambda needed: needed.minutes),
        annealing=annealing,
        second=second_stage_limit(annealing, passing, policy),
        second_until_c=strain_c - policy.second_stage_k,
        passing=passing,
    )


def heating_limit(piece: Piece, policy: Policy, *, annealed: bool = True) -> Limit:
    """Heating brittle glass pulls its middle, M·R·L²/(6κ): the passing stress, and the ceiling.

    A piece never annealed carries stress of its own already: only a part of that is left for the heating.
    """
    share = 1.0 if annealed else policy.unannealed_share
    rate = stress.rate_for_centre_c_per_h(
        piece.form, piece.glass, piece.half_or_full_path_m, share * policy.passing_mpa * PA_PER_MPA
    )
    return _capped(rate, Rule.PASSING_STRESS, policy.heating_ceilings, piece)


def annealing_limit(piece: Piece, policy: Policy) -> Limit:
    """R1, from hold to strain point: the tension kept in the middle, M·R·L²/(6κ), and the ceiling."""
    rate = stress.rate_for_centre_c_per_h(
        piece.form, piece.glass, piece.half_or_full_path_m, policy.kept_mpa * PA_PER_MPA
    )
    return _capped(rate, Rule.KEPT_STRESS, policy.cooling_ceilings, piece)


def second_stage_limit(annealing: Limit, passing: Limit, policy: Policy) -> Limit:
    """Just below the strain point: a few times the first rate, and never above the passing limit."""
    stepped = annealing.rate_c_per_h * policy.second_stage_times
    if stepped < passing.rate_c_per_h:
        return Limit(rate_c_per_h=stepped, rule=Rule.SECOND_STAGE)
    return passing


def passing_limit(piece: Piece, policy: Policy) -> Limit:
    """Below the strain point: the passing tension of the surface, M·R·L²/(3κ) for a plate.

    The studio's cooling ceilings are for the annealing range, so they do not apply here.
    """
    rate = stress.rate_for_surface_c_per_h(
        piece.form, piece.glass, piece.half_or_full_path_m, policy.passing_mpa * PA_PER_MPA
    )
    return Limit(rate_c_per_h=rate, rule=Rule.PASSING_STRESS)


def soak(piece: Piece, policy: Policy, hold_c: float) -> Soak:
    """The piece evens out to 1 %, then its stress relaxes; never shorter than the studio's floor."""
    needed = stress.equalise_min(piece.form, piece.glass, piece.half_or_full_path_m)
    needed += piece.glass.relaxation_min(hold_c)
    floor = policy.soak_floor_min_per_mm * piece.thickest_mm
    rule = Rule.STUDIO_FLOOR if floor >= needed else Rule.RELAXATION
    return Soak(minutes=whole_minutes_up(max(floor, needed)), rule=rule)


def kept_stress_mpa(piece: Piece, rate_c_per_h: float) -> float:
    """The tension a piece keeps in its middle when it went through the annealing range at a rate."""
    kept = stress.centre_stress_pa(piece.form, piece.glass, piece.half_or_full_path_m, rate_c_per_h)
    return kept / PA_PER_MPA


def _brittle_until_c(piece: Piece, rate_c_per_h: float) -> float:
    lag_k = stress.centre_lag_k(piece.form, piece.glass, piece.half_or_full_path_m, rate_c_per_h)
    return piece.glass.annealing_c + lag_k


def _capped(rate_c_per_h: float, rule: Rule, ceilings: Ceilings | None, piece: Piece) -> Limit:
    ceiling = ceiling_c_per_h(ceilings, piece.thickest_mm)
    if ceiling is not None and ceiling < rate_c_per_h:
        return Limit(rate_c_per_h=ceiling, rule=Rule.STUDIO_CEILING)
    return Limit(rate_c_per_h=rate_c_per_h, rule=rule)


def _rate(limit: Limit) -> float:
    return limit.rate_c_per_h
