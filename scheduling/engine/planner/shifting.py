"""A plan whose tasks are moved to where they could as well begin."""

from __future__ import annotations

from collections.abc import Callable

from scheduling.engine.planner.alike import in_the_order_given
from scheduling.engine.planner.drawn import Drawn
from scheduling.engine.planner.project import Key, Project
from scheduling.engine.planner.reach import Possible
from scheduling.engine.planner.result import Placed, Placings, counts_from


def shifted(project: Project, ways: Possible, plan: Placings, good: Callable[[Placings], bool]) -> Placings:
    """Each task, in its way, as early as the others let it, the first first, if the plan stays good."""
    moved = dict(plan)
    for key in sorted(plan, key=lambda each: plan[each].start):
        earlier = _earlier(project, ways, moved, key)
        if earlier is not None and good({**moved, key: earlier}):
            moved[key] = earlier
    return in_the_order_given(project, moved)


def _earlier(project: Project, ways: Possible, plan: Placings, key: Key) -> Placed | None:
    placed = plan[key]
    reach = next(reach for way, reach in ways[key] if way is placed.way)
    floors = [counts_from(lag, plan) + lag.least for lag in project.lags if lag.after == key]
    drawn = Drawn.by(project, (other for each, other in plan.items() if each != key))
    found = drawn.soonest(placed.way, reach, max([project.within[0], *floors]))
    return found if found and found.start < placed.start and _in_time(project, plan, key, found) else None


def _in_time(project: Project, plan: Placings, key: Key, found: Placed) -> bool:
    """Whether what follows does not come too late after it."""
    moved = {**plan, key: found}
    return all(
        lag.greatest is None or plan[lag.after].start - counts_from(lag, moved) <= lag.greatest
        for lag in project.lags
        if lag.before == key
    )
