"""How large a sheet is printed, so that it fits one landscape page of A4 or letter paper."""

from __future__ import annotations

from collections.abc import Sequence

# In hundredths of a millimetre for each unit of a strip: below the least its labels cannot be read on a wall.
LARGEST, LEAST = 22, 10
# Millimetres that the shorter paper leaves for strips beside the heading, and what a studio's name takes.
HIGH, NAMED = 168.0, 8.0


def paper_for(heights: Sequence[float]) -> str:
    """The class of the sheet on paper, by the heights of its studios: on one page, else on one each."""
    together = _size(sum(heights), len(heights))
    if together >= LEAST or len(heights) < 2:
        return f"paper-{max(together, LEAST)}"
    alone = min(_size(height, 1) for height in heights)
    return f"paper-{max(alone, LEAST)} paper-each"


def _size(height: float, studios: int) -> int:
    room = HIGH - studios * NAMED
    return min(LARGEST, int(100 * room / height)) if height else LARGEST
