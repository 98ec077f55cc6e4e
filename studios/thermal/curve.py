"""The temperature of a piece of equipment against time, exact by pieces."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import groupby

from studios.thermal.errors import EmptyCurve
from studios.thermal.phases import Phase

# A length that only the last bits of a float lift above a whole minute is that minute (60 microseconds).
ROUNDING_MIN = 1e-6


def whole_minutes_up(minutes: float) -> int:
    """Ends are rounded up to the minute, never down."""
    return math.ceil(minutes - ROUNDING_MIN)


@dataclass(frozen=True, kw_only=True)
class CurvePiece:
    """One stretch in closed form, [starts_min, ends_min).

    A straight line when `toward_c` is None, else toward_c + (from_c − toward_c)·exp(−t/tau_min).
    """

    phase: Phase
    starts_min: float
    ends_min: float
    from_c: float
    to_c: float
    toward_c: float | None = None
    tau_min: float | None = None

    @property
    def duration_min(self) -> float:
        return self.ends_min - self.starts_min

    def minute_at(self, temperature_c: float) -> float:
        """When a temperature between the two ends is passed."""
        if self.toward_c is not None and self.tau_min is not None:
            share = (self.from_c - self.toward_c) / (temperature_c - self.toward_c)
            return self.starts_min + self.tau_min * math.log(share)
        if self.to_c == self.from_c:
            return self.starts_min
        return self.starts_min + self.duration_min * (temperature_c - self.from_c) / (self.to_c - self.from_c)

    def temperature_at(self, minute: float) -> float:
        since = minute - self.starts_min
        if self.toward_c is not None and self.tau_min is not None:
            return self.toward_c + (self.from_c - self.toward_c) * math.exp(-since / self.tau_min)
        if self.duration_min == 0:
            return self.to_c
        return self.from_c + (self.to_c - self.from_c) * since / self.duration_min


@dataclass(frozen=True, kw_only=True)
class PhaseSpan:
    """A phase and when it lasts, in minutes from the start of the curve, [starts_min, ends_min)."""

    phase: Phase
    starts_min: float
    ends_min: float


@dataclass(frozen=True, kw_only=True)
class Curve:
    """Pieces end to end, from minute 0."""

    pieces: tuple[CurvePiece, ...] = ()

    @property
    def duration_min(self) -> float:
        return self.pieces[-1].ends_min if self.pieces else 0.0

    @cached_property
    def whole_min(self) -> int:
        return whole_minutes_up(self.duration_min)

    @cached_property
    def whole_spans(self) -> tuple[tuple[int, int], ...]:
        """Each piece in whole minutes; every end is rounded up."""
        return tuple((whole_minutes_up(p.starts_min), whole_minutes_up(p.ends_min)) for p in self.pieces)

    def temperature_at(self, minute: float) -> float:
        """The temperature at a minute; before the start that of the start, after the end that of the end.

        Raises EmptyCurve.
        """
        if not self.pieces:
            raise EmptyCurve
        if minute >= self.duration_min:
            return self.pieces[-1].to_c
        at = bisect_right(self.pieces, minute, key=lambda piece: piece.starts_min) - 1
        return self.pieces[max(at, 0)].temperature_at(max(minute, 0.0))

    def falls_to(self, temperature_c: float) -> float:
        """The minute from which on the curve stays at or below a temperature; its end, where it never does.

        Raises EmptyCurve.
        """
        if not self.pieces:
            raise EmptyCurve
        stays_from = self.duration_min
        for piece in reversed(self.pieces):
            if piece.to_c > temperature_c:
                return stays_from
            if piece.from_c > temperature_c:
                return piece.minute_at(temperature_c)
            stays_from = piece.starts_min
        return stays_from

    def minutes(self) -> Iterator[tuple[int, float]]:
        """The temperature minute by minute, and at the end."""
        if self.pieces:
            yield from ((minute, self.temperature_at(minute)) for minute in range(self.whole_min + 1))

    def phase_spans(self) -> tuple[PhaseSpan, ...]:
        """Each phase once for each time it is entered, in order."""
        runs = (list(run) for _, run in groupby(self.pieces, key=lambda piece: piece.phase))
        return tuple(
            PhaseSpan(phase=run[0].phase, starts_min=run[0].starts_min, ends_min=run[-1].ends_min)
            for run in runs
        )


def _goes_on(before: CurvePiece, piece: CurvePiece) -> bool:
    """Whether a piece is the same exponential in the same phase, carried on."""
    return piece.toward_c is not None and (before.phase, before.toward_c, before.tau_min, before.to_c) == (
        piece.phase,
        piece.toward_c,
        piece.tau_min,
        piece.from_c,
    )


def end_to_end(pieces: Iterable[CurvePiece]) -> Curve:
    """A curve of pieces set one after another, whenever each of them was thought to start.

    A body that goes on relaxing by one law through two stages is one piece.
    """
    placed: list[CurvePiece] = []
    now_min = 0.0
    for piece in pieces:
        if placed and _goes_on(placed[-1], piece):
            now_min += piece.duration_min
            placed[-1] = replace(placed[-1], ends_min=now_min, to_c=piece.to_c)
            continue
        placed.append(replace(piece, starts_min=now_min, ends_min=now_min + piece.duration_min))
        now_min = placed[-1].ends_min
    return Curve(pieces=tuple(placed))
