"""Degrees beside a drawing: the reader's on the left with level lines, the other scale on the right."""

from __future__ import annotations

from scheduling.web.drawing.frame import Scale, path, text
from studios.thermal.units import c_from_f, f_from_c

EVERY = {"C": (100, 250), "F": (200, 500)}
COARSE_FROM_C = 1000.0


def degrees(scale: Scale, width: float, unit: str) -> str:
    """Both scales; level lines go with the reader's."""
    other = "C" if unit == "F" else "F"
    lines = path("".join(f"M0 {y:.1f}H{width:.0f}" for y, _ in _ticks(scale, unit)), "level")
    left = (text(-6, y + 4, said, cls="axis-label", text_anchor="end") for y, said in _ticks(scale, unit))
    right = (text(width + 6, y + 4, said, cls="axis-label other-scale") for y, said in _ticks(scale, other))
    return lines + "".join(left) + "".join(right)


def _ticks(scale: Scale, unit: str) -> list[tuple[float, str]]:
    step = EVERY[unit][scale.top_c > COARSE_FROM_C]
    top = f_from_c(scale.top_c) if unit == "F" else scale.top_c
    marks = range(step if unit == "F" else 0, int(top) + 1, step)
    return [(scale.y(c_from_f(mark) if unit == "F" else mark), f"{mark} °{unit}") for mark in marks]
