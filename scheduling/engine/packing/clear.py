"""How far from one another two pieces must be, for rectangles and rounds alike.

Seen from the middle of one piece, the middle of another must be outside a rectangle with rounded corners: its
sides are those of the rectangles of the two together, its corners as round as the rounds of the two together.
Middles are counted in half millimetres, so that all is whole.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scheduling.engine.packing.spaced import Box

Whole = NDArray[np.int64]
Fractions = NDArray[np.float64]
# More than a root is wrong by: what is so near counts as clear, so that nothing is refused that is.
ROOTS_DIFFER = 1e-6


def middle(box: Box) -> tuple[int, int]:
    """In half millimetres."""
    return box[0] + box[2], box[1] + box[3]


def clear(away: Whole, between: Whole) -> NDArray[np.bool_]:
    """Whether middles that are so far away from one another keep what must be between them: exactly."""
    beside = np.abs(away) - between[..., :2]
    outside = np.maximum(beside, 0)
    found: NDArray[np.bool_] = (np.square(outside).sum(axis=-1) >= np.square(between[..., 2])) & (
        beside.max(axis=-1) >= 0
    )
    return found


def apart(away: Fractions | Whole, between: Fractions | Whole) -> Fractions:
    """How far pieces are from touching, in half millimetres; below nothing where they overlap."""
    x, y = np.abs(away[..., 0]) - between[..., 0], np.abs(away[..., 1]) - between[..., 1]
    outside = np.hypot(np.maximum(x, 0), np.maximum(y, 0))
    found: Fractions = outside + np.minimum(np.maximum(x, y), 0) - between[..., 2]
    return found


def needed(aside: Fractions, between: Whole, axis: int) -> Fractions:
    """How far apart middles must be along an axis, where they are so far apart along the other one."""
    beyond, round_ = aside - between[:, 1 - axis], between[:, 2]
    root = np.sqrt(np.maximum(round_**2 - np.maximum(beyond, 0) ** 2, 0))
    found: Fractions = np.where(beyond >= round_ - ROOTS_DIFFER, 0.0, between[:, axis] + root)
    return found
