"""Moulds that other loads hold: one that needs more than are left is out before them, or begins after."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scheduling.engine.kiln_work.kilns import KilnRun
from scheduling.engine.kiln_work.laying import LoadLaid
from scheduling.engine.spans import Span, levels, subtract


def with_moulds(run: KilnRun, load: LoadLaid, begins: Sequence[Span]) -> tuple[Span, ...]:
    """The beginnings from which on all moulds that a load needs are free until it is unloaded."""
    return subtract(begins, ((_last_out_by(run, since) + 1, until) for since, until in _lacking(load)))


def _lacking(load: LoadLaid) -> Iterator[Span]:
    """When others have so many of a form that too few are left."""
    forms = {one.mould.id: one.mould for one in load.stood if one.mould}
    for key, count in load.moulds.items():
        held = ((span, float(number)) for span, number in forms[key].held)
        yield from (span for span, number in levels(held) if number + count > forms[key].count)


def _last_out_by(run: KilnRun, minute: int) -> int:
    """The last beginning of what is unloaded by a minute; before all minutes, if there is none."""
    ends = (min(until, minute) - run.kiln.clear_min for since, until in run.unload_staffed if since < minute)
    fit = [end for end, (since, _) in zip(ends, run.unload_staffed, strict=False) if end >= since]
    return fit[-1] - run.cools_after if fit else -1
