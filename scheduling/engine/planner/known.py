"""What is known of an aim before anything is sought: no plan has less of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from itertools import accumulate

from scheduling.engine.planner.alone import held_alone, lone, most_starts
from scheduling.engine.planner.bounds import heads, in_order, least_finish
from scheduling.engine.planner.project import Aim, Key, Project, Way
from scheduling.engine.planner.reach import Possible, Reach
from scheduling.engine.planner.visits import Visit, every_day

# Of each place and each kiln there, what could be started in it.
Kilns = Mapping[tuple[Key, Key], Collection[tuple[Way, Reach]]]


def known_bound(aim: Aim, project: Project, ways: Possible) -> int:
    """Minutes count from the beginning of the project."""
    match aim:
        case Aim.FINISH:
            return least_finish(project, ways) - project.within[0]
        case Aim.COST:
            return sum(min((way.cost for way, _ in each), default=0) for each in ways.values())
        case Aim.STARTS:
            soonest = heads(project, ways, in_order(project)).values()
            return sum(min(minute, project.within[1]) - project.within[0] for minute in soonest)
        case Aim.VISITS:
            return _fewest_visits(project, ways)
        case Aim.ANY:
            return 0


def _fewest_visits(project: Project, ways: Possible) -> int:
    """If every kiln started as much as fits on each day on which somebody comes, the roomiest days first.

    Where nothing is closed on the day on which it starts, somebody comes once more for what started last.
    """
    alone = lone(project)
    loads = [each for each in ways.values() if all(_is_load(way, alone) for way, _ in each)]
    if not loads:
        return 0
    kilns: dict[tuple[Key, Key], set[tuple[Way, Reach]]] = {}
    for way, reach in (each for load in loads for each in load):
        kilns.setdefault((way.place, held_alone(way, alone)), set()).add((way, reach))
    rooms = sorted((_room(visit, kilns, len(loads)) for visit in every_day(project)), reverse=True)
    enough = next((days for days, room in enumerate(accumulate(rooms), 1) if room >= len(loads)), 0)
    return enough + (not any(_closes_at_once(visit, kilns) for visit in every_day(project)))


def _is_load(way: Way, alone: Collection[Key]) -> bool:
    return way.place is not None and way.closing is not None and held_alone(way, alone) is not None


def _room(visit: Visit, kilns: Kilns, enough: int) -> int:
    """How much can be started at a place on a day."""
    place, day = visit
    return sum(
        most_starts({reach for _, reach in each}, day, enough)
        for (at, _), each in kilns.items()
        if at == place
    )


def _closes_at_once(visit: Visit, kilns: Kilns) -> bool:
    """Whether something that starts on a day can be closed on it."""
    place, day = visit
    for (at, _), each in kilns.items():
        for way, reach in each if at == place else ():
            first = reach.first(day[0])
            if first and first[1] - (way.closing.minutes if way.closing else 0) < day[1]:
                return True
    return False
