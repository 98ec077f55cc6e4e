"""What a curve costs in energy. Averages only: a supply limit counts the full connected draw, never these."""

from __future__ import annotations

from studios.thermal.body import Body
from studios.thermal.curve import Curve, CurvePiece
from studios.thermal.motion import MIN_PER_H


def holding_kw(body: Body, at_c: float) -> float:
    """The average power that holds a body at a temperature: P·(T − Ta)/(T∞ − Ta)."""
    return body.power_kw * (at_c - body.ambient_c) / (body.ceiling_c - body.ambient_c)


def energy_kwh(curve: Curve, body: Body) -> float:
    """The energy a body takes while it follows a curve.

    A body that relaxes toward a temperature is fed what would hold it there: full power toward its ceiling,
    none toward ambient. On a straight line the loss and the heat stored add: P·((T − Ta) + τ·rate)/(T∞ − Ta).
    """
    return sum(_mean_kw(piece, body) * piece.duration_min / MIN_PER_H for piece in curve.pieces)


def _mean_kw(piece: CurvePiece, body: Body) -> float:
    if piece.duration_min == 0:
        return 0.0
    if piece.toward_c is not None:
        return holding_kw(body, piece.toward_c)
    middle_c = (piece.from_c + piece.to_c) / 2
    rate_c_per_h = (piece.to_c - piece.from_c) / piece.duration_min * MIN_PER_H
    fed = holding_kw(body, middle_c + _tau_h(piece, body) * rate_c_per_h)
    return min(max(fed, 0.0), body.power_kw)


def _tau_h(piece: CurvePiece, body: Body) -> float:
    """A straight line of a planned curve never crosses the split: cooling is divided there."""
    low = piece.to_c < piece.from_c <= body.split_c
    return body.tau_low_h if low and body.tau_low_h is not None else body.tau_h
