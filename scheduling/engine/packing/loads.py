"""Every load of large pieces that may stand on one shelf, for all that is known at first."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from scheduling.engine.packing.bounds import WHOLE, weights
from scheduling.engine.packing.clear import Fractions, Whole
from scheduling.engine.packing.fitting import Fitting
from scheduling.engine.packing.spaced import Load, Spaced
from scheduling.engine.packing.threes import Yes

# From how large a share of the room on a piece counts as large: down to where the loads would be too many.
LARGE = tuple(0.3 * 0.8**step for step in range(11))
MOST_KINDS = 60
# By so many weights it is judged what a shelf carries; by the first, what it has left for smaller pieces.
JUDGED = 16
# What room is left is rounded up to such parts of a shelf, as a linear program is at odds with tiny ones.
PARTS = 10_000


@dataclass(frozen=True, kw_only=True)
class Loads:
    """Every load of large pieces that may stand on one shelf, the empty one last.

    `rows` are loads: large kinds, the largest first, filled up with the number that comes after them all.
    Only these loads may ask `fitting` of fours, as it knows of further kinds, too.
    `numbers` is what these are among all kinds, `pieces` how many there are of each. By the heaviest weights,
    `leaves` is how much of a shelf each load leaves, and `smaller` how much of one all smaller pieces take.
    """

    numbers: tuple[int, ...]
    pieces: tuple[int, ...]
    rows: Whole
    leaves: Fractions
    smaller: float
    fitting: Fitting

    def load(self, row: int) -> Load:
        """Its kinds, as they are numbered among all."""
        return tuple(sorted(self.numbers[kind] for kind in self.load_of_large(row)))

    def load_of_large(self, row: int) -> list[int]:
        """Its kinds, as they are numbered among the large."""
        return [kind for kind in self.rows[row].tolist() if kind < len(self.numbers)]

    def as_large(self, row: int) -> Yes:
        """Which loads are at least as large as this one, piece by piece of it, by area."""
        count = int((self.rows[row] < len(self.numbers)).sum())
        found: Yes = np.all(self.rows[:, :count] <= self.rows[row, :count], axis=1)
        return found


def every_load(what: Spaced, *, most: int) -> Loads | None:
    """With as many kinds among the large as make no more loads than `most`.

    None where no piece is large, or where there are more loads anyway.
    """
    count = np.array([len(kind.pieces) for kind in what.kinds])
    judged = weights(what)
    judged = judged[np.argsort(-judged @ count, kind="stable")[:JUDGED]]
    shares = np.array([kind.area for kind in what.kinds]) / (what.room[0] * what.room[1])
    ranked = np.argsort(-shares, kind="stable")[:MOST_KINDS].tolist()
    fitting = Fitting(Spaced(room=what.room, kinds=tuple(what.kinds[number] for number in ranked)))
    found: Loads | None = None
    for large in dict.fromkeys(int((shares[ranked] > share).sum()) for share in LARGE):
        if large:
            loads = _loads(what, tuple(ranked[:large]), fitting, judged, most)
            if loads is None:
                break
            found = loads
    return found


def _loads(
    what: Spaced, numbers: tuple[int, ...], fitting: Fitting, judged: Whole, most: int
) -> Loads | None:
    count = np.array([len(kind.pieces) for kind in what.kinds])
    levels = _levels(count[list(numbers)], judged[:, numbers], fitting, most)
    if levels is None:
        return None
    width = levels[-1].rows.shape[1]
    filled = (
        np.pad(level.rows, ((0, 0), (0, width - level.rows.shape[1])), constant_values=len(numbers))
        for level in levels
    )
    weighs = np.append(np.concatenate([level.weighs[:, 0] for level in levels]), 0)
    smaller = np.delete(judged[0], numbers) @ np.delete(count, numbers)
    return Loads(
        numbers=numbers,
        pieces=tuple(count[list(numbers)].tolist()),
        rows=np.concatenate([*filled, np.full((1, width), len(numbers))]),
        leaves=np.ceil((1 - weighs / WHOLE) * PARTS) / PARTS,
        smaller=float(smaller / WHOLE),
        fitting=fitting,
    )


@dataclass(frozen=True)
class _Level:
    """Loads of so many pieces each, what they weigh, and which kinds from the last one on may join."""

    rows: Whole
    weighs: Whole
    joining: Yes


def _levels(count: Whole, weighed: Whole, fitting: Fitting, most: int) -> list[_Level] | None:
    """Level by level, loads of one piece first; None where all levels together have more than `most`."""
    kinds = np.arange(len(count))
    twos = fitting.twos[: len(count), : len(count)]
    level = _Level(kinds[:, None], weighed.T, twos & (kinds >= kinds[:, None]))
    levels: list[_Level] = []
    while len(level.rows):
        levels.append(level)
        most -= len(level.rows)
        last = level.rows[:, -1:]
        none_left = (level.rows == last).sum(axis=1) >= count[last[:, 0]]
        which, joins = np.nonzero(level.joining & ~((kinds == last) & none_left[:, None]))
        good = (level.weighs[which] + weighed.T[joins] <= WHOLE).all(axis=1)
        which, joins = which[good], joins[good]
        rows = np.column_stack((level.rows[which], joins))
        good = _by_threes(fitting, rows)
        which, joins, rows = which[good], joins[good], rows[good]
        if len(rows) > most:
            return None
        joining = level.joining[which] & twos[joins] & (kinds >= joins[:, None])
        level = _Level(rows, level.weighs[which] + weighed.T[joins], joining)
    return levels


def _by_threes(fitting: Fitting, rows: Whole) -> Yes:
    """Whether each three of a load can stand, where each could without its last piece."""
    size = rows.shape[1]
    if size == 3:
        return fitting.ask_threes(rows)
    found = np.ones(len(rows), dtype=bool)
    for one, other in combinations(range(size - 1), 2):
        found &= fitting.threes[rows[:, one], rows[:, other], rows[:, -1]]
    return found
