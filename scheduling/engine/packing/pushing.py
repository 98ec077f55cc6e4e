"""Few large pieces on one shelf: thrown there at random and pushed apart where they overlap, until none does.

Many throws are followed at once. What comes of it is put on whole millimetres and judged there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scheduling.engine.packing.clear import Fractions, Whole, clear
from scheduling.engine.packing.spaced import Layout, Load, Spaced, form

THROWS, PUSHES, LOOKED = 24, 240, 20
# Pushed by so much of what they overlap, and by so many half millimetres more than they must.
STRENGTH, MORE = 0.6, 1.0


def pushed(what: Spaced, load: Load, *, throws: int = THROWS) -> Layout | None:
    """A load on one shelf; None where none of the throws ends well."""
    thrown = _Thrown.at_random(what, load, throws)
    for number in range(1, PUSHES + 1):
        thrown.push()
        if number % LOOKED == 0 and (found := thrown.well_laid()) is not None:
            return tuple(
                (kind, (int(x), int(y), int(x + length), int(y + width)))
                for kind, (x, y), (length, width) in zip(load, *found, strict=True)
            )
    return None


@dataclass
class _Thrown:
    """The middles of all pieces (throw, piece, axis), how they stand, and what must be between each two."""

    room: Whole
    middles: Fractions
    sides: Whole
    between: Whole

    @staticmethod
    def at_random(what: Spaced, load: Load, throws: int) -> _Thrown:
        """Each piece anywhere, in any of its ways."""
        rng = np.random.default_rng(6)
        sides = np.zeros((throws, len(load), 2), dtype=np.int64)
        forms = np.zeros((throws, len(load), 3), dtype=np.int64)
        for n, number in enumerate(load):
            kind = what.kinds[number]
            way = rng.integers(len(kind.ways), size=throws)
            sides[:, n] = np.array(kind.ways)[way]
            forms[:, n] = np.array([form(kind, each) for each in kind.ways])[way]
        i, j = np.triu_indices(len(load), 1)
        room = np.array(what.room)
        at = sides + rng.random(sides.shape) * (2 * room - 2 * sides)
        return _Thrown(room=room, middles=at, sides=sides, between=forms[:, i] + forms[:, j])

    def push(self) -> None:
        """Each two that overlap apart, each by as much; none over the margin."""
        i, j = np.triu_indices(self.sides.shape[1], 1)
        away = self.middles[:, j] - self.middles[:, i] + 1e-9
        beside = np.abs(away) - self.between[..., :2]
        outside = np.maximum(beside, 0)
        far = np.hypot(outside[..., 0], outside[..., 1])
        inside = far == 0
        short = np.maximum(self.between[..., 2] + MORE - far - np.where(inside, beside.max(axis=-1), 0), 0)
        nearest = beside == beside.max(axis=-1, keepdims=True)
        unit = np.where(inside[..., None], nearest, outside / np.maximum(far, 1e-9)[..., None])
        step = np.sign(away) * unit * (STRENGTH * short)[..., None]
        each = np.eye(self.sides.shape[1])
        moved = np.einsum("tpa,pn->tna", step, each[j] - each[i])
        self.middles = np.clip(self.middles + moved, self.sides, 2 * self.room - self.sides)

    def well_laid(self) -> tuple[Whole, Whole] | None:
        """The corners and sides of the first throw in which nothing overlaps, on whole millimetres."""
        i, j = np.triu_indices(self.sides.shape[1], 1)
        corners = np.rint((self.middles - self.sides) / 2).astype(np.int64)
        whole = 2 * corners + self.sides
        good = clear(whole[:, j] - whole[:, i], self.between).all(axis=1)
        if not good.any():
            return None
        first = int(good.argmax())
        return corners[first], self.sides[first]
