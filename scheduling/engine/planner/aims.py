"""What there should be least of, as CP-SAT counts it."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from scheduling.engine.planner.model import Expr, Model
from scheduling.engine.planner.project import Aim, Project
from scheduling.engine.planner.result import Placings
from scheduling.engine.planner.visits import every_day, visited, visits


def finish(model: Model) -> Expr:
    """The minute at which the last task ends."""
    return model.over


def cost(model: Model) -> Expr:
    """What the ways cost that are taken."""
    return sum(choice.way.cost * choice.taken for _, choice in model.choices())


def starts(model: Model) -> Expr:
    """All starts together: with everything else equal, each task comes as early as it can."""
    return sum(laid.start for laid in model.laid.values())


def nothing(_: Model) -> Expr:
    """Any plan is as good as another."""
    return 0


def measured(aim: Aim, project: Project, plan: Placings) -> int:
    """What a plan has of an aim, counted from the plan alone; minutes are those since the project began."""
    match aim:
        case Aim.FINISH:
            return (
                max((placed.end for placed in plan.values()), default=project.within[0]) - project.within[0]
            )
        case Aim.COST:
            return sum(placed.way.cost for placed in plan.values())
        case Aim.STARTS:
            return sum(placed.start - project.within[0] for placed in plan.values())
        case Aim.VISITS:
            return len(visited(plan, every_day(project)))
        case Aim.ANY:
            return 0


COUNTED: Mapping[Aim, Callable[[Model], Expr]] = {
    Aim.FINISH: finish,
    Aim.COST: cost,
    Aim.VISITS: visits,
    Aim.STARTS: starts,
    Aim.ANY: nothing,
}
