"""Other ways to find the earliest start of six pieces with offsets, to be measured beside the engine."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import reduce

import numpy as np
import portion
from intervaltree import IntervalTree

from tests.benchmarks.year import YEAR_MIN, Window

Gaps = tuple[np.ndarray, np.ndarray]


def as_bits(windows: Sequence[Window]) -> list[int]:
    """Each piece as one integer, a bit for each minute that it is taken."""
    return [sum(((1 << (b - a)) - 1) << a for a, b in window.taken) for window in windows]


def by_bits(windows: Sequence[Window], taken: Sequence[int]) -> int | None:
    """Forbidden starts as bits: each taken minute spread over the window, all of them together."""
    forbidden = 0
    for window, bits in zip(windows, taken, strict=True):
        # A start s is forbidden when a minute of [s - before, s + after) is taken.
        forbidden |= _spread(bits << window.before, window.before + window.after)
    free = ~forbidden & ((1 << YEAR_MIN) - 1)
    return (free & -free).bit_length() - 1 if free else None


def _spread(bits: int, length: int) -> int:
    """Every bit and the ones below it, `length` in all, by doubling."""
    done = 1
    while done < length:
        step = min(done, length - done)
        bits |= bits >> step
        done += step
    return bits


def as_arrays(windows: Sequence[Window]) -> list[Gaps]:
    """Each piece as arrays of when it is taken from and until."""
    return [(np.array([a for a, _ in w.taken]), np.array([b for _, b in w.taken])) for w in windows]


def by_gaps(windows: Sequence[Window], arrays: Sequence[Gaps]) -> int | None:
    """Allowed starts of each piece, met pairwise with searchsorted."""
    gaps = []
    for window, (begins, ends) in zip(windows, arrays, strict=True):
        starts = np.concatenate(([0], ends + window.before))
        stops = np.concatenate((begins - window.after + 1, [YEAR_MIN]))
        keep = starts < stops
        gaps.append((starts[keep], stops[keep]))
    starts, _ = reduce(_meet, gaps)
    return int(starts[0]) if len(starts) else None


def _meet(one: Gaps, other: Gaps) -> Gaps:
    first = np.searchsorted(other[1], one[0], side="right")
    last = np.searchsorted(other[0], one[1], side="left")
    counts = np.maximum(last - first, 0)
    left = np.repeat(np.arange(len(one[0])), counts)
    right = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts) + np.repeat(first, counts)
    starts, ends = np.maximum(one[0][left], other[0][right]), np.minimum(one[1][left], other[1][right])
    keep = starts < ends
    return starts[keep], ends[keep]


def as_lists(windows: Sequence[Window]) -> list[tuple[list[int], list[int]]]:
    return [([a for a, _ in w.taken], [b for _, b in w.taken]) for w in windows]


def by_jumps(windows: Sequence[Window], lists: Sequence[tuple[list[int], list[int]]]) -> int | None:
    """Bisect for what is in the way, and jump behind it until nothing is."""
    start = 0
    while start < YEAR_MIN:
        jump = start
        for window, (begins, ends) in zip(windows, lists, strict=True):
            at = bisect_right(ends, jump - window.before)
            if at < len(begins) and begins[at] < jump + window.after:
                jump = ends[at] + window.before
        if jump == start:
            return start
        start = jump
    return None


def by_trees(windows: Sequence[Window]) -> int | None:
    """An interval tree of forbidden starts, its overlaps merged, and the first gap in it."""
    tree = IntervalTree.from_tuples(
        (a - window.after + 1, b + window.before) for window in windows for a, b in window.taken
    )
    tree.merge_overlaps(strict=False)
    start = 0
    for interval in sorted(tree):
        if interval.begin > start:
            return start
        start = max(start, interval.end)
    return start if start < YEAR_MIN else None


def by_portions(windows: Sequence[Window]) -> int | None:
    """Sets of intervals: what is forbidden by any of them, taken from the year."""
    forbidden = portion.Interval(
        *(portion.closedopen(a - w.after + 1, b + w.before) for w in windows for a, b in w.taken)
    )
    left = portion.closedopen(0, YEAR_MIN) - forbidden
    return None if left.empty else int(left.lower)
