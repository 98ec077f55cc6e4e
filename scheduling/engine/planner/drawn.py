"""What is drawn on each resource while a plan is made, and where one more task still fits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduling.engine.planner.project import Draw, Key, Project, Way
from scheduling.engine.planner.reach import Reach
from scheduling.engine.planner.result import Placed
from scheduling.engine.spans import Span, levels


@dataclass(frozen=True, kw_only=True)
class Drawn:
    """The capacity of each resource, and what is drawn on it, by what was there before and what is placed."""

    capacity: Mapping[Key, int]
    uses: Mapping[Key, list[tuple[Span, int]]]

    @classmethod
    def by(cls, project: Project, placed: Iterable[Placed] = ()) -> Drawn:
        """By what was there before, and by what is placed."""
        drawn = cls(
            capacity={resource.key: resource.capacity for resource in project.resources},
            uses={resource.key: list(resource.taken) for resource in project.resources},
        )
        for each in placed:
            drawn.add(each)
        return drawn

    def copy(self) -> Drawn:
        return Drawn(capacity=self.capacity, uses={key: list(uses) for key, uses in self.uses.items()})

    def add(self, placed: Placed) -> None:
        for draw in placed.way.draws:
            self.uses[draw.resource].append((_span(draw, placed.start, placed.end), draw.amount))

    def soonest(self, way: Way, reach: Reach, minute: int) -> Placed | None:
        """The first start from a minute on at which all that a way draws is left."""
        while span := reach.first(minute):
            free = [self._free_from(draw, *span) for draw in way.draws]
            if max(free, default=span[0]) <= span[0]:
                return Placed(way=way, start=span[0], end=span[1])
            minute = max(free)
        return None

    def _free_from(self, draw: Draw, start: int, end: int) -> int:
        """The start at which a draw would have all behind it that is in its way: later, or the same."""
        span = _span(draw, start, end)
        room = self.capacity[draw.resource] - draw.amount
        near = [use for use in self.uses[draw.resource] if _meet(use[0], span)]
        full = [part[1] for part, amount in levels(near) if amount > room and _meet(part, span)]
        return max(full) - draw.begins if full else start


def _span(draw: Draw, start: int, end: int) -> Span:
    return start + draw.begins, end if draw.ends is None else start + draw.ends


def _meet(one: Span, other: Span) -> bool:
    return one[0] < other[1] and other[0] < one[1]
