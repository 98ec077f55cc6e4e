"""Half-open spans of whole minutes, and lists of them kept sorted and apart."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from itertools import pairwise

Span = tuple[int, int]
# What is left over when amounts are added and taken away again.
TOLERANCE = 1e-9


def union(spans: Iterable[Span]) -> tuple[Span, ...]:
    """All minutes that lie in any of the spans; spans that touch become one, empty ones vanish."""
    merged: list[Span] = []
    first, last = 0, -1
    for start, end in sorted(spans):
        if start >= end:
            continue
        if last < start or not merged:
            merged.append((start, end))
            first, last = start, end
        elif end > last:
            merged[-1] = (first, end)
            last = end
    return tuple(merged)


def subtract(spans: Iterable[Span], holes: Iterable[Span]) -> tuple[Span, ...]:
    """The minutes of the spans that lie in none of the holes."""
    taken = union(holes)
    if not taken:
        return union(spans)
    left: list[Span] = []
    at = 0
    for start, end in union(spans):
        while at < len(taken) and taken[at][1] <= start:
            at += 1
        reached, hole = start, at
        while hole < len(taken) and taken[hole][0] < end:
            if reached < taken[hole][0]:
                left.append((reached, taken[hole][0]))
            reached = taken[hole][1]
            hole += 1
        if reached < end:
            left.append((reached, end))
    return tuple(left)


def intersect(one: Sequence[Span], other: Sequence[Span]) -> tuple[Span, ...]:
    """The minutes that lie in both of two sorted, separate lists of spans."""
    both: list[Span] = []
    i = j = 0
    ones, others = len(one), len(other)
    while i < ones and j < others:
        (a, b), (c, d) = one[i], other[j]
        start, end = a if a > c else c, b if b < d else d  # noqa: FURB136  (half the time of max and min)
        if start < end:
            both.append((start, end))
        if b <= d:
            i += 1
        else:
            j += 1
    return tuple(both)


def clip(spans: Sequence[Span], within: Span) -> tuple[Span, ...]:
    """What lies inside one span of sorted, separate spans."""
    start, end = within
    return tuple((max(a, start), min(b, end)) for a, b in overlapping(spans, start, end))


def at_least(count: int, every: Sequence[Sequence[Span]]) -> tuple[Span, ...]:
    """The minutes that lie in at least so many of several lists of spans: any k of these n."""
    if count <= 1:
        return union(span for spans in every for span in spans)
    changes = sorted(
        [(start, 1) for spans in every for start, _ in spans]
        + [(end, -1) for spans in every for _, end in spans]
    )
    found: list[Span] = []
    depth = 0
    for minute, change in changes:
        before, depth = depth, depth + change
        if before < count <= depth:
            found.append((minute, minute))
        elif depth < count <= before:
            found[-1] = (found[-1][0], minute)
    return union(found)


def first_ending_after(spans: Sequence[Span], minute: int) -> int:
    """The index of the first of the sorted, separate spans that ends after a minute."""
    index = bisect_right(spans, minute, key=lambda span: span[0])
    return index - 1 if index and spans[index - 1][1] > minute else index


def covers(spans: Sequence[Span], start: int, end: int) -> bool:
    """Whether one of the sorted, separate spans holds all of [start, end)."""
    index = first_ending_after(spans, start)
    return start >= end or (index < len(spans) and spans[index][0] <= start and end <= spans[index][1])


def first_fit(spans: Sequence[Span], start: int, length: int) -> int | None:
    """The first minute from `start` on at which one of the spans still holds `length` minutes."""
    for span_start, span_end in spans[first_ending_after(spans, start) :]:
        begin = max(start, span_start)
        if begin + length <= span_end:
            return begin
    return None


def overlapping(spans: Sequence[Span], start: int, end: int) -> Sequence[Span]:
    """The sorted, separate spans that share a minute with [start, end)."""
    return spans[first_ending_after(spans, start) : bisect_left(spans, end, key=lambda span: span[0])]


def levels(amounts: Iterable[tuple[Span, float]]) -> tuple[tuple[Span, float], ...]:
    """Amounts over spans as a step function: spans of one total, in order, without the idle ones."""
    changes: dict[int, float] = {}
    for (begin, end), amount in amounts:
        changes[begin] = changes.get(begin, 0.0) + amount
        changes[end] = changes.get(end, 0.0) - amount
    steps: list[tuple[Span, float]] = []
    total = 0.0
    for begin, end in pairwise(sorted(changes)):
        total += changes[begin]
        if total > TOLERANCE:
            steps.append(((begin, end), total))
    return tuple(steps)
