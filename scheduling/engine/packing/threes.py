"""Which threes of pieces can stand on one shelf, and in which orders: exactly, by fractions of a millimetre.

Two pieces are clear of one another by how far their middles are apart along the room and across it, and more
of either never hurts. By their middles, three stand in some order from left to right and in some order from
front to back, and one does as well as its mirror image. The leftmost may as well stand at the left edge, the
frontmost at the front edge, and so on. So one of three stands in a corner, and they make either

- a bend: the second goes along one edge and the third along the other edge, each as near to the corner as
  the first allows; farther from one another they cannot be. The second is between the others from left to
  right, the third from front to back; or
- a line: another goes into the opposite corner, and the one between them both ways to an edge. For where it
  may stand between their middles is a rectangle less two convex shapes, and what two convex shapes leave of
  that reaches its edge; from there to the room's edge it only goes away from both.

In no other order can three stand, rectangles or rounds. Lengths are half millimetres, as in
scheduling.engine.packing.clear.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from scheduling.engine.packing.clear import ROOTS_DIFFER, Fractions, Whole, needed
from scheduling.engine.packing.spaced import Sides

Yes = NDArray[np.bool_]
# The orders of three: in a line with this one in the middle; bent, with these for first and second.
ORDERS = ((0,), (1,), (2,), *permutations(range(3), 2))


def orders_of_threes(room: Sides, sides: Whole, forms: Whole) -> Whole:
    """For many threes, (three, piece, ...): in which of ORDERS they can stand, one bit for each."""
    low, high = sides.astype(float), 2.0 * np.array(room) - sides
    found = np.zeros(len(sides), dtype=np.int64)
    for order in permutations(range(3)):
        three = _Three(low[:, order], high[:, order], forms[:, order])
        found |= three.bent() * (1 << ORDERS.index(order[:2]))
        found |= (three.in_line(0) | three.in_line(1)) * (1 << ORDERS.index(order[1:2]))
    return found


@dataclass(frozen=True)
class _Three:
    """Threes in the order in which they go to their edges: the first into the front left corner.

    How near to the front left and the back right corner a middle may be, (three, piece, axis), and the forms.
    """

    low: Fractions
    high: Fractions
    forms: Whole

    def bent(self) -> Yes:
        """The second goes along the back edge to the left, the third along the right edge to the front."""
        second, third = self.high[:, 1].copy(), self.high[:, 2].copy()
        second[:, 0] = self._beyond_first(1, second, 0)
        third[:, 1] = self._beyond_first(2, third, 1)
        within = (second[:, 0] <= self.high[:, 1, 0] + ROOTS_DIFFER) & (
            third[:, 1] <= self.high[:, 2, 1] + ROOTS_DIFFER
        )
        away = np.abs(second - third)
        return within & (away[:, 0] >= needed(away[:, 1], self._between(1, 2), 0) - ROOTS_DIFFER)

    def in_line(self, axis: int) -> Yes:
        """The third goes into the opposite corner, the second between them to the edge on this axis."""
        first, last, aside = self.low[:, 0], self.high[:, 2], 1 - axis
        away = last - first
        apart = np.abs(away[:, 0]) >= needed(np.abs(away[:, 1]), self._between(0, 2), 0) - ROOTS_DIFFER
        second = self.low[:, 1]
        need = needed(np.abs(last[:, axis] - second[:, axis]), self._between(1, 2), aside)
        most = self.high[:, 1, aside]
        farthest = np.where(need > 0, np.minimum(most, last[:, aside] - need), most)
        return apart & (self._beyond_first(1, second, aside) <= farthest + ROOTS_DIFFER)

    def _beyond_first(self, number: int, at: Fractions, axis: int) -> Fractions:
        """How near to the corner a piece may be on an axis because of the first, by where else it stands."""
        aside = 1 - axis
        need = needed(np.abs(at[:, aside] - self.low[:, 0, aside]), self._between(0, number), axis)
        low = self.low[:, number, axis]
        return np.where(need > 0, np.maximum(low, self.low[:, 0, axis] + need), low)

    def _between(self, one: int, other: int) -> Whole:
        return self.forms[:, one] + self.forms[:, other]
