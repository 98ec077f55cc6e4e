"""A plan made at once for whoever wants to come seldom: days are struck as long as all still fits."""

from __future__ import annotations

from scheduling.engine.planner.first_guess import first_guess
from scheduling.engine.planner.project import Project, Way
from scheduling.engine.planner.reach import Possible, Reach
from scheduling.engine.planner.result import Placed, Placings
from scheduling.engine.planner.visits import Visit, every_day, visited
from scheduling.engine.spans import Span, subtract


def on_fewer_days(project: Project, ways: Possible, plan: Placings) -> Placings:
    """The days of the plan on which least is begun are tried first."""
    for visit in sorted(visited(plan, every_day(project)), key=lambda each: (_begun(plan, each), each[1])):
        without = {key: tuple(_left(way, reach, visit) for way, reach in each) for key, each in ways.items()}
        other = first_guess(project, without)
        if other is not None and _days(project, other) < _days(project, plan):
            plan, ways = other, without
    return plan


def _days(project: Project, plan: Placings) -> int:
    return len(visited(plan, every_day(project)))


def _begun(plan: Placings, visit: Visit) -> int:
    return sum(_begins_on(placed, visit) for placed in plan.values())


def _begins_on(placed: Placed, visit: Visit) -> bool:
    place, (begin, end) = visit
    return placed.way.place == place and begin <= placed.start < end


def _left(way: Way, reach: Reach, visit: Visit) -> tuple[Way, Reach]:
    """The starts of a way for which nobody comes to its place on a day, neither then nor to close it."""
    place, day = visit
    if way.place != place:
        return way, reach
    closing = way.closing.minutes if way.closing else 0
    until_closing = reach.length - closing
    closed_then: Span = (day[0] - until_closing, day[1] - until_closing)
    prompt = subtract(reach.prompt, [day, closed_then] if way.closing else [day])
    waiting = tuple(
        (part, end)
        for span, end in reach.waiting
        if not day[0] <= end - closing < day[1]
        for part in subtract([span], [day])
    )
    return way, Reach(length=reach.length, prompt=prompt, waiting=waiting)
