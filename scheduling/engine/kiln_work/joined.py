"""Plans for parts of the work, at a studio each, told as one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from operator import attrgetter

from scheduling.engine.kiln_work.answers import LoadPlanned, WorkPlanned
from scheduling.engine.kiln_work.asked import Aim


def joined(plans: Sequence[WorkPlanned], *, bound: int, aim: Aim) -> WorkPlanned:
    """All of them. `bound` is before when none is ready; loads are numbered anew in each firing."""
    names = dict(_names(plans))
    loads = [replace(load, key=names[at, load.key]) for at, plan in enumerate(plans) for load in plan.loads]
    handwork = [
        replace(work, load=names.get((at, work.load), ""))
        for at, plan in enumerate(plans)
        for work in plan.handwork
    ]
    ready = max(plan.ready for plan in plans)
    return WorkPlanned(
        loads=tuple(sorted(loads, key=attrgetter("begins", "key"))),
        handwork=tuple(sorted(handwork, key=attrgetter("span", "load", "does"))),
        ready=ready,
        bound=bound,
        proven=aim is Aim.EARLIEST and ready == bound,
        shelves=sum(plan.shelves for plan in plans),
        shelves_bound=sum(plan.shelves_bound for plan in plans),
        bound_by=", ".join(dict.fromkeys(plan.bound_by for plan in plans if plan.bound_by)),
        visits=tuple(sorted(visit for plan in plans for visit in plan.visits)),
        cost=sum(plan.cost for plan in plans),
        cost_of=tuple(sum(parts) for parts in zip(*(plan.cost_of for plan in plans), strict=True)),
    )


def _names(plans: Sequence[WorkPlanned]) -> Iterator[tuple[tuple[int, str], str]]:
    """For each plan and load of it the key in the whole: its firing, and its number in the order of time."""
    seen: Counter[int] = Counter()
    every: list[tuple[int, LoadPlanned]] = [
        (at, load) for at, plan in enumerate(plans) for load in plan.loads
    ]
    for at, load in sorted(every, key=lambda one: (one[1].begins, one[0], one[1].key)):
        seen[load.step] += 1
        yield (at, load.key), f"{load.step}.{seen[load.step]}"
