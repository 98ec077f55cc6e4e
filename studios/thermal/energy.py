"""What a curve costs in energy, and when its heat may be switched on.

Averages only: a supply limit counts the full connected draw while the controller may switch, never these.
A body heated by gas is reckoned by its burner: its full power is the burner's heat input.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece
from studios.thermal.motion import MIN_PER_H
from studios.thermal.program import Leg


@dataclass(frozen=True, kw_only=True)
class Power:
    """Average power over [starts_min, ends_min), linear from one end to the other."""

    starts_min: float
    ends_min: float
    from_kw: float
    to_kw: float


def holding_kw(body: Body, at_c: float) -> float:
    """The average power that holds a body at a temperature: P·(T − Ta)/(T∞ − Ta)."""
    return body.power_kw * (at_c - body.ambient_c) / (body.ceiling_c - body.ambient_c)


def holding_kwh(body: Body, at_c: float, minutes: float) -> float:
    """What it takes to hold an annealer hot, for an hour or all day."""
    return holding_kw(body, at_c) * minutes / MIN_PER_H


def power(curve: Curve, body: Body) -> tuple[Power, ...]:
    """The average power against time, piece by piece."""
    return tuple(_power(piece, body) for piece in curve.pieces)


def energy_kwh(curve: Curve, body: Body) -> float:
    """The energy a body takes while it follows a curve: the area under its power."""
    return sum(_mean_kw(piece, body) * piece.duration_min / MIN_PER_H for piece in curve.pieces)


def _power(piece: CurvePiece, body: Body) -> Power:
    return Power(
        starts_min=piece.starts_min,
        ends_min=piece.ends_min,
        from_kw=_fed_kw(piece, body, piece.from_c),
        to_kw=_fed_kw(piece, body, piece.to_c),
    )


def _mean_kw(piece: CurvePiece, body: Body) -> float:
    return _fed_kw(piece, body, (piece.from_c + piece.to_c) / 2)


def _fed_kw(piece: CurvePiece, body: Body, at_c: float) -> float:
    """The power at a temperature on a piece.

    A body that relaxes toward a temperature is fed what would hold it there: full power toward its ceiling,
    none toward ambient. On a straight line the loss and the heat stored add: P·((T − Ta) + τ·rate)/(T∞ − Ta).
    """
    if piece.duration_min == 0:
        return 0.0
    if piece.toward_c is not None:
        return holding_kw(body, piece.toward_c)
    rate_c_per_h = (piece.to_c - piece.from_c) / piece.duration_min * MIN_PER_H
    fed = holding_kw(body, at_c + _tau_h(piece, body) * rate_c_per_h)
    return min(max(fed, 0.0), body.power_kw)


def _tau_h(piece: CurvePiece, body: Body) -> float:
    """A straight line of a planned curve never crosses the split: cooling is divided there."""
    low = piece.to_c < piece.from_c <= body.split_c
    return body.tau_low_h if low and body.tau_low_h is not None else body.tau_h


def switching_min(run: Iterable[Leg]) -> float:
    """How long, from the start of a program, its controller may switch the heat on.

    Until the program has ended. On the way up and to a hold the controller waits for the body; once the body
    has fallen behind in cooling the program runs on ahead of it, and ends before it, with the heat off. A
    body that follows again has been fed again: the program is then no further than the body.
    """
    ends_min = now_min = body_min = 0.0
    for leg in run:
        begins_min = now_min if _behind(leg.got[:1]) else body_min
        body_min += leg.got_min
        now_min = begins_min + leg.asked_min if _behind(leg.got[-1:]) else body_min
        if leg.segment.keyed:
            ends_min = now_min
    return ends_min


def _behind(piece: tuple[CurvePiece, ...]) -> bool:
    """Whether the body is left to cool by itself here, slower than it is asked to."""
    return any(part.toward_c is not None and part.to_c < part.from_c for part in piece)
