"""When a way can start on its own, and when it ends then."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.planner.project import Closing, Draw, Key, Project, Resource, Way
from scheduling.engine.spans import Span, clip, intersect, levels, subtract, union


@dataclass(frozen=True, kw_only=True)
class Reach:
    """The starts of a way, told apart by how they end.

    A start in `prompt` ends `length` minutes later. Those of a span in `waiting` all end at the minute beside
    it, since whoever closes comes only then.
    """

    length: int
    prompt: tuple[Span, ...]
    waiting: tuple[tuple[Span, int], ...] = ()

    @property
    def starts(self) -> tuple[Span, ...]:
        return union([*self.prompt, *(span for span, _ in self.waiting)])

    @cached_property
    def _stretches(self) -> list[tuple[Span, int | None]]:
        prompt: list[tuple[Span, int | None]] = [(span, None) for span in self.prompt]
        return sorted([*prompt, *self.waiting])

    def first(self, minute: int) -> Span | None:
        """The first start from a minute on, and its end. No later start ends sooner."""
        at = bisect_right(self._stretches, minute, key=lambda stretch: stretch[0][1])
        if at == len(self._stretches):
            return None
        (begin, _), end = self._stretches[at]
        start = max(begin, minute)
        return start, start + self.length if end is None else end


Possible = Mapping[Key, tuple[tuple[Way, Reach], ...]]


def possible(project: Project) -> Possible:
    """Each task with the ways that it can start at all. What is alike is worked out once."""
    resources = {resource.key: resource for resource in project.resources}
    known = {way: reach(way, project, resources) for way in {w for task in project.tasks for w in task.ways}}
    return {
        task.key: tuple((way, known[way]) for way in task.ways if known[way].starts) for task in project.tasks
    }


def reach(way: Way, project: Project, resources: Mapping[Key, Resource]) -> Reach:
    """What is left of the starts of a way when it is the only task, told apart by how they end."""
    starts = free_starts(way, project, resources)
    if way.closing is None:
        return Reach(length=way.minutes, prompt=_ending_by(starts, way.minutes, project))
    length = way.minutes + way.closing.minutes
    turns = tuple(_turns(way.closing, project.within))
    prompt = intersect(starts, union((a - way.minutes, b + 1 - way.minutes) for a, b in turns))
    waiting = [
        ((begin, end), turn + way.closing.minutes)
        for idle, turn in _idle(turns, project.within)
        for begin, end in intersect(starts, [(idle[0] - way.minutes, idle[1] - way.minutes)])
    ]
    return Reach(length=length, prompt=prompt, waiting=tuple(waiting))


def free_starts(way: Way, project: Project, resources: Mapping[Key, Resource]) -> tuple[Span, ...]:
    """The starts that what is drawn already leaves to a way, as far as its draws have a fixed length.

    None where it draws more than there ever is.
    """
    if any(draw.lasts and draw.amount > resources[draw.resource].capacity for draw in way.draws):
        return ()
    starts = clip(union([project.within] if way.starts is None else way.starts), project.within)
    return subtract(
        starts, (hole for draw in way.draws if draw.lasts for hole in _forbidden(way, draw, resources))
    )


def _forbidden(way: Way, draw: Draw, resources: Mapping[Key, Resource]) -> Iterator[Span]:
    """The starts from which a draw would meet more than its resource has left."""
    resource = resources[draw.resource]
    ends = way.minutes if draw.ends is None else draw.ends
    for (begin, end), taken in levels(resource.taken):
        if taken + draw.amount > resource.capacity:
            yield begin - ends + 1, end - draw.begins


def _turns(closing: Closing, within: Span) -> Iterator[Span]:
    """The first and the last minute at which the closing can begin in each span that holds it."""
    present = max(closing.minutes, 1)
    for begin, end in clip(union(closing.within), within):
        if end - begin >= present:
            yield begin, end - present


def _idle(turns: Iterable[Span], within: Span) -> Iterator[tuple[Span, int]]:
    """The minutes in which nothing can be closed, each with the first minute after them at which it can."""
    reached = within[0]
    for first, last in turns:
        if reached < first:
            yield (reached, first), first
        reached = last + 1


def _ending_by(starts: tuple[Span, ...], minutes: int, project: Project) -> tuple[Span, ...]:
    return intersect(starts, [(project.within[0], project.within[1] - minutes + 1)])
