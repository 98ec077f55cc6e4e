"""How long a kiln stands cool until somebody comes to unload it: these hours cost, too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from scheduling.engine.kiln_work.kilns import KilnRun
from scheduling.engine.spans import Span, intersect, union

# Waits are told apart by so many minutes; within them they are counted alike.
STEP_MIN = 2 * 60


def by_wait(run: KilnRun, begins: Sequence[Span]) -> list[tuple[int, tuple[Span, ...]]]:
    """The minutes at which loading may begin by how long it then waits to be unloaded, about."""
    found: dict[int, list[Span]] = {}
    for wait, (first, last) in _waits(run):
        found.setdefault(wait, []).append((first - run.cools_after, last - run.cools_after))
    parted = ((wait, intersect(begins, union(spans))) for wait, spans in sorted(found.items()))
    return [(wait, spans) for wait, spans in parted if spans]


def _waits(run: KilnRun) -> Iterator[tuple[int, Span]]:
    """The minutes in which it may be cool enough to open, by how long it waits then."""
    need = max(run.kiln.clear_min, 1)
    reached = run.begins[0][0] if run.begins else 0
    for opens, closes in run.unload_staffed:
        if closes - opens < need or closes - need < reached:
            continue
        yield from _before(opens, reached)
        yield 0, (max(opens, reached), closes - need + 1)
        reached = closes - need + 1


def _before(opens: int, since: int) -> Iterator[tuple[int, Span]]:
    """The minutes from when nobody came until somebody does, the last ones first."""
    for number, end in enumerate(range(opens, since, -STEP_MIN)):
        yield number * STEP_MIN + STEP_MIN // 2, (max(end - STEP_MIN, since), end)
