"""The areas and the line of a strip in one pass: each piece of a curve is put into commands once.

The same curve as in `curve`, for sheets on which thousands of pieces are drawn.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from math import ceil, exp

from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.web.drawing.curve import LOWEST
from scheduling.web.drawing.frame import Frame, Scale, path
from scheduling.web.drawing.marks import fill
from studios.thermal import Phase

Pieces = Iterable[tuple[PhaseSpan, Span]]


class Trace:
    """The heated pieces of one body over a frame, in order of time, with what it rests at between them."""

    def __init__(self, frame: Frame, scale: Scale, rest_c: float | None = None) -> None:
        self.start, self.end = frame.span
        self.x_of = frame.width / (self.end - self.start)
        self.foot, self.y_of = scale.height, (scale.height - scale.pad) / scale.top_c
        self.top_c = scale.top_c
        self.rest = None if rest_c is None else f"{self._y(rest_c):.1f}"
        self.areas: dict[Phase, list[str]] = defaultdict(list)
        self._line: list[str] = []
        self._pen = self.start

    def add(self, pieces: Pieces) -> None:
        """Pieces with a temperature; what lies outside of the frame leaves no trace."""
        for phase, (since, until) in pieces:
            begin, end = max(since, self.start), min(until, self.end)
            if begin < end:
                self._piece(phase, begin, end)

    def _piece(self, phase: PhaseSpan, begin: int, end: int) -> None:
        left, right = (begin - self.start) * self.x_of, (end - self.start) * self.x_of
        if phase.toward_c is not None and phase.tau_min:
            top, run = self._bends(phase, begin, end)
        else:
            top, run = self._straight(phase, begin, end)
        if phase.from_c == phase.to_c and self.foot - top < LOWEST:
            # What is cold and level gets a band that is seen.
            area = f"M{left:.1f} {self.foot - LOWEST:.1f}H{right:.1f}V{self.foot:.0f}H{left:.1f}Z"
        else:
            area = f"M{left:.1f} {self.foot:.0f}V{top:.1f}{run}V{self.foot:.0f}Z"
        self.areas[phase.kind].append(area)
        self._line.append(f"{self._resting_until(begin)}L{left:.1f} {top:.1f}{run}")
        self._pen = max(self._pen, end)

    def _straight(self, phase: PhaseSpan, begin: int, end: int) -> tuple[float, str]:
        (since, until), from_c, to_c = phase.span, phase.from_c or 0.0, phase.to_c or 0.0
        slope = (to_c - from_c) / (until - since)
        at_end = self._y(from_c + slope * (end - since))
        return self._y(
            from_c + slope * (begin - since)
        ), f"L{(end - self.start) * self.x_of:.1f} {at_end:.1f}"

    def _bends(self, phase: PhaseSpan, begin: int, end: int) -> tuple[float, str]:
        """Bézier pieces of at most one τ; each falls by the same share of what is left."""
        toward, tau = phase.toward_c or 0.0, phase.tau_min or 1.0
        count = ceil((end - begin) / tau)
        step = (end - begin) / count
        fall, third = exp(-step / tau), step / 3
        above = ((phase.from_c or 0.0) - toward) * exp(-(begin - phase.span[0]) / tau)
        lean, x, dx = third / tau, (begin - self.start) * self.x_of, third * self.x_of
        first, parts = self._y(toward + above), []
        for _ in range(count):
            after = above * fall
            near, far = self._y(toward + above * (1 - lean)), self._y(toward + after * (1 + lean))
            last = self._y(toward + after)
            parts.append(f"C{x + dx:.1f} {near:.1f} {x + 2 * dx:.1f} {far:.1f} {x + 3 * dx:.1f} {last:.1f}")
            above, x = after, x + 3 * dx
        return first, "".join(parts)

    def _y(self, celsius: float) -> float:
        hot = self.top_c if celsius > self.top_c else celsius  # noqa: FURB136 - in a loop, min() costs twice
        return self.foot - hot * self.y_of if hot > 0 else self.foot

    def _resting_until(self, minute: int) -> str:
        if minute <= self._pen or self.rest is None:
            return ""
        left, right = (self._pen - self.start) * self.x_of, (minute - self.start) * self.x_of
        return f"L{left:.1f} {self.rest}H{right:.1f}"

    @property
    def line(self) -> str:
        """One path over all of the frame."""
        return (
            f"M{''.join((*self._line, self._resting_until(self.end)))[1:]}" if self._line or self.rest else ""
        )


def filled(areas: Mapping[Phase, Iterable[str]]) -> str:
    """The areas of all phases, one path for each kind."""
    return "".join(path("".join(every), "phase", fill=fill(kind)) for kind, every in areas.items())
