"""Windows that move with the start, and the starts for which they lie where they must."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduling.engine.booked import Forbidden
from scheduling.engine.spans import Span, subtract, union

FAR = 1 << 50


@dataclass(frozen=True, kw_only=True)
class Edge:
    """A minute: `offset` after the start where it moves with it, else the minute `offset` itself."""

    moves: bool
    offset: int

    def at(self, start: int) -> int:
        return start + self.offset if self.moves else self.offset

    def plus(self, minutes: int) -> Edge:
        return Edge(moves=self.moves, offset=self.offset + minutes)


def moving(offset: int) -> Edge:
    """So many minutes after the start."""
    return Edge(moves=True, offset=offset)


def fixed(minute: int) -> Edge:
    """A minute that stands still."""
    return Edge(moves=False, offset=minute)


def from_on(edge: Edge, minute: int) -> Span:
    """The starts for which an edge is not before a minute."""
    if edge.moves:
        return minute - edge.offset, FAR
    return (-FAR, FAR) if edge.offset >= minute else (0, 0)


def until(edge: Edge, minute: int) -> Span:
    """The starts for which an edge is not after a minute."""
    if edge.moves:
        return -FAR, minute - edge.offset + 1
    return (-FAR, FAR) if edge.offset <= minute else (0, 0)


def meet(*spans: Span) -> Span:
    """The starts that lie in all of some spans; an empty span where there is none."""
    start, end = max(span[0] for span in spans), min(span[1] for span in spans)
    return (start, end) if start < end else (0, 0)


def inside(hours: Iterable[Span], begin: Edge, end: Edge) -> tuple[Span, ...]:
    """The starts for which [begin, end) lies inside one of the hours; a window of no length always does."""
    if begin.moves == end.moves and begin.offset >= end.offset:
        return ((-FAR, FAR),)
    if begin.moves and end.moves:
        lead, tail = begin.offset, end.offset
        return tuple((h0 - lead, h1 - tail + 1) for h0, h1 in hours if h1 - tail >= h0 - lead)
    return union(meet(from_on(begin, h0), until(end, h1)) for h0, h1 in hours)


def free(taken: Iterable[Span], begin: int, end: int, within: Span) -> tuple[Span, ...]:
    """The starts, within a span, whose window from s + begin to s + end meets nothing that is taken."""
    forbidden = ((t0 - end + 1, t1 - begin) for t0, t1 in taken if t0 < t1)
    return subtract([within], forbidden)


def left_between(forbidden: Forbidden, within: Span) -> Iterator[Span]:
    """The starts within a span that are not forbidden."""
    begins, ends = forbidden
    reached = within[0]
    for at in range(bisect_right(ends, reached), len(begins)):
        if begins[at] >= within[1]:
            break
        if begins[at] > reached:
            yield reached, begins[at]
        reached = ends[at]
    if reached < within[1]:
        yield reached, within[1]


def gaps(taken: Iterable[Span]) -> tuple[Span, ...]:
    """What lies between taken spans, without end on both sides."""
    return subtract([(-FAR, FAR)], taken)
