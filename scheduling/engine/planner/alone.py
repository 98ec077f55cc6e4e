"""What a task has to itself from its start to its end, as a load has its kiln: how much fits."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from scheduling.engine.planner.project import Key, Project, Way
from scheduling.engine.planner.reach import Possible, Reach
from scheduling.engine.spans import Span

NEVER = 2**62


def lone(project: Project) -> frozenset[Key]:
    """The resources that one task at a time can have."""
    return frozenset(resource.key for resource in project.resources if resource.capacity == 1)


def held_alone(way: Way, lone: Collection[Key]) -> Key:
    """The first resource that a way has to itself from start to end, if there is one."""
    held = (draw.resource for draw in way.draws if draw.begins == 0 and draw.ends is None)
    return next((key for key in held if key in lone), None)


def on_each(project: Project, ways: Possible, keys: Iterable[Key]) -> dict[Key, set[Reach]]:
    """All that any of these tasks could make of each resource that it would have to itself."""
    alone, found = lone(project), dict[Key, set[Reach]]()
    for key in keys:
        for way, reach in ways[key]:
            if (held := held_alone(way, alone)) is not None:
                found.setdefault(held, set()).add(reach)
    return found


def soonest_end(reaches: Iterable[Reach], minute: int) -> int:
    """The soonest end of any that starts at a minute or later."""
    return min((span[1] for reach in reaches if (span := reach.first(minute))), default=NEVER)


def most_starts(reaches: Collection[Reach], within: Span, enough: int) -> int:
    """How many can start in a span, one after the other, at most; counted up to `enough`."""
    minute, count = within[0], 0
    while count < enough:
        starts = [span[0] for reach in reaches if (span := reach.first(minute))]
        if min(starts, default=NEVER) >= within[1]:
            break
        minute, count = soonest_end(reaches, minute), count + 1
    return count
