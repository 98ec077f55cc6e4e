"""Temperature curves as SVG paths: straight lines, and exponentials as Bézier pieces of at most one τ.

A cubic that meets an exponential in its ends and slopes over one τ is off by less than 0.3 % of the fall (the
Hermite remainder h⁴/384 times the fourth derivative): the tail that is seen is the tail that was computed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import ceil, exp

from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.web.drawing.frame import Frame, Scale, bands, path
from scheduling.web.drawing.marks import fill
from studios.thermal import Phase


def celsius(phase: PhaseSpan, minute: float) -> float:
    """The temperature within a heated phase at any moment, whole minute or not."""
    from_c, to_c = phase.from_c or 0.0, phase.to_c or 0.0
    start, end = phase.span
    if phase.toward_c is not None and phase.tau_min:
        return phase.toward_c + (from_c - phase.toward_c) * exp(-(minute - start) / phase.tau_min)
    return from_c + (to_c - from_c) * (minute - start) / (end - start)


def run(phase: PhaseSpan, span: Span, frame: Frame, scale: Scale) -> str:
    """The commands that follow one phase over a span, from wherever the pen stands at its start."""
    start, end = max(span[0], frame.span[0]), min(span[1], frame.span[1])
    if start >= end:
        return ""
    if phase.toward_c is None or not phase.tau_min:
        return f"L{frame.x(end):.1f} {scale.y(celsius(phase, end)):.1f}"
    count = max(1, ceil((end - start) / phase.tau_min))
    marks = [start + (end - start) * n / count for n in range(count + 1)]
    return "".join(_bend(phase, a, b, frame, scale) for a, b in pairwise(marks))


def _bend(phase: PhaseSpan, a: float, b: float, frame: Frame, scale: Scale) -> str:
    at_a, at_b = celsius(phase, a), celsius(phase, b)
    third = (b - a) / 3
    toward, tau = phase.toward_c or 0.0, phase.tau_min or 1.0
    near = at_a + (toward - at_a) / tau * third
    far = at_b - (toward - at_b) / tau * third
    points = ((a + third, near), (b - third, far), (b, at_b))
    return "C" + " ".join(f"{frame.x(minute):.1f} {scale.y(c):.1f}" for minute, c in points)


LOWEST = 9.0


def under(phase: PhaseSpan, span: Span, frame: Frame, scale: Scale) -> str:
    """The area between a phase's curve and the foot; what is cold and level gets a band that is seen."""
    start, end = max(span[0], frame.span[0]), min(span[1], frame.span[1])
    if start >= end:
        return ""
    foot = f"{scale.height:.1f}"
    if phase.from_c == phase.to_c and scale.height - scale.y(phase.from_c or 0.0) < LOWEST:
        return bands(frame, [(start, end)], scale.height - LOWEST, LOWEST)
    top = scale.y(celsius(phase, start))
    left, right = frame.x(start), frame.x(end)
    return f"M{left:.1f} {foot}V{top:.1f}{run(phase, span, frame, scale)}L{right:.1f} {foot}Z"


def fills(pieces: Iterable[tuple[PhaseSpan, Span]], frame: Frame, scale: Scale) -> str:
    """The areas of all phases, one path for each kind."""
    areas: dict[Phase, str] = defaultdict(str)
    for phase, span in pieces:
        areas[phase.kind] += under(phase, span, frame, scale)
    return "".join(path(d, "phase", fill=fill(kind)) for kind, d in areas.items())


def line(pieces: Sequence[tuple[PhaseSpan, Span]], rest_c: float | None, frame: Frame, scale: Scale) -> str:
    """One path over all of the frame: the phases in order, and the temperature at rest between them."""
    if not pieces and rest_c is None:
        return ""
    parts, pen = [], frame.span[0]
    for phase, span in (piece for piece in pieces if frame.shows(piece[1])):
        start = max(span[0], frame.span[0])
        if start > pen and rest_c is not None:
            parts += [(pen, rest_c, ""), (start, rest_c, "")]
        parts.append((start, celsius(phase, start), run(phase, span, frame, scale)))
        pen = max(pen, span[1])
    if pen < frame.span[1] and rest_c is not None:
        parts += [(pen, rest_c, ""), (frame.span[1], rest_c, "")]
    points = (f"{frame.x(minute):.1f} {scale.y(at_c):.1f}{then}" for minute, at_c, then in parts)
    return "M" + "L".join(points)


def in_turn(occupancies: Iterable[Sequence[PhaseSpan]]) -> list[tuple[PhaseSpan, Span]]:
    """Heated phases of one body, each cut short where the next begins: cooling gives way to heat-up."""
    known = [[phase for phase in phases if phase.from_c is not None] for phases in occupancies]
    heated = sorted((phases for phases in known if phases), key=lambda phases: phases[0].span[0])
    if not heated:
        return []
    begins = [*(phases[0].span[0] for phases in heated[1:]), None]
    return [
        (phase, (phase.span[0], phase.span[1] if limit is None else min(phase.span[1], limit)))
        for phases, limit in zip(heated, begins, strict=True)
        for phase in phases
        if limit is None or phase.span[0] < limit
    ]
