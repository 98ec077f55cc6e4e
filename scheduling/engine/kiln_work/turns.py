"""How soon kilns are done with so many loads, one after the other, if nothing else is asked of them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from heapq import merge
from itertools import islice

from scheduling.engine.kiln_work.kilns import KilnRun
from scheduling.engine.spans import Span, first_fit


def next_turn(runs: Iterable[KilnRun], since: int, busy: Sequence[Span] = ()) -> Span | None:
    """The firing that is unloaded first of those from a minute on: when it begins, and when it is done."""
    found = (turn for run in runs if (turn := _turn(run, since, busy)) is not None)
    return min(found, key=lambda turn: (turn[1], -turn[0]), default=None)


def _turn(run: KilnRun, since: int, busy: Sequence[Span]) -> Span | None:
    """The first firing of a run that meets nothing of what is busy, which is in order."""
    begin: int | None = since
    while begin is not None:
        begin = first_fit(run.begins, begin, 1)
        done = None if begin is None else run.done(begin)
        if begin is None or done is None:
            return None
        met = next((until for start, until in busy if start < done and begin < until), None)
        if met is None:
            return begin, done
        begin = met
    return None


def turns(runs: Sequence[KilnRun], since: int) -> Iterator[int]:
    """When a kiln is done with its first load, its second, and so on."""
    while (turn := next_turn(runs, since)) is not None:
        yield turn[1]
        since = turn[1]


def turns_of(every: Iterable[Sequence[KilnRun]], since: int, most: int) -> list[int]:
    """When several kilns together are done with one load, two, and so on, up to so many."""
    return list(islice(merge(*(turns(runs, since) for runs in every)), most))
