"""The whole plan as its reader has it, and which of two plans is the better one."""

from __future__ import annotations

from scheduling.engine.kiln_work.answers import WorkPlanned
from scheduling.engine.kiln_work.asked import Aim
from scheduling.engine.kiln_work.costs import parts
from scheduling.engine.kiln_work.written import Written, visits


def told(made: Written, *, bound: int) -> WorkPlanned:
    """Everything that is to be known of a plan; `bound` is before when none is ready."""
    asking = made.asking
    loads = tuple(sorted(made.loads.values(), key=lambda load: (load.begins, load.key)))
    handwork = tuple(sorted(made.handwork, key=lambda work: (work.span, work.load, work.does)))
    ready = max([*(load.done for load in loads), *(work.span[1] for work in handwork)])
    cost_of = parts(loads, asking.asked.pieces)
    return WorkPlanned(
        loads=loads,
        handwork=handwork,
        ready=ready,
        bound=bound,
        proven=asking.asked.aim is Aim.EARLIEST and ready == bound,
        shelves=asking.scheme.shelves,
        shelves_bound=sum(laid.bound for laid in asking.scheme.laid),
        bound_by=", ".join(dict.fromkeys(by for laid in asking.scheme.laid for by in laid.bound_by)),
        visits=visits(made),
        cost=sum(load.cost for load in loads),
        cost_of=cost_of,
    )


def merit(plan: WorkPlanned, aim: Aim) -> tuple[float, ...]:
    """The less, the better: what is wanted most first, then fewer studios, the earlier, the cheaper."""
    cost = round(plan.cost, 6)
    studios = len(plan.ready_at)
    if aim is Aim.EARLIEST:
        return plan.ready, studios, cost, plan.shelves, len(plan.visits)
    if aim is Aim.CHEAPEST:
        return cost, studios, plan.ready, plan.shelves, len(plan.visits)
    return len(plan.visits), studios, plan.ready, cost, plan.shelves
