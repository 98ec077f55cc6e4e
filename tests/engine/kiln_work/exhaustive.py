"""Every order in which a few pieces, all alike, can go through a few kilns; no line of it is the planner's.

Loading is tried in every minute in which somebody is there for it, by placing it. What is left out is only
what cannot be better: a load that could begin sooner, and a piece going on before one that is ready sooner.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.kiln_work.bare import bare_firing, flat_piece
from scheduling.engine.kiln_work.routes import Before
from scheduling.engine.records import Ask, Duty, Placement
from scheduling.engine.search import place
from scheduling.engine.world import World

NEVER = 1 << 40
Table = Mapping[tuple[int, int], Sequence[tuple[int, int]]]


def earliest(world: World, asked: WorkAsked, holds: Mapping[int, int]) -> int:
    """When the last piece is ready at the earliest; `holds`: how many a load of each kiln takes."""
    search = _Every(table=_table(world, asked), holds=holds, steps=len(asked.route.firings))
    first = asked.arrives + asked.route.first_after_min
    pieces = sorted((first if each.free is None else each.free, each.first) for each in asked.pieces)
    search.go_on(dict.fromkeys(holds, 0), tuple(pieces))
    return search.best


def earliest_parted(world: World, asked: WorkAsked, holds: Mapping[int, int]) -> int:
    """The same where the kilns are at two studios and each piece stays at one of them."""
    return min(
        max(_at(world, asked, holds, 1, count), _at(world, asked, holds, 2, len(asked.pieces) - count))
        for count in range(len(asked.pieces) + 1)
    )


def _at(world: World, asked: WorkAsked, holds: Mapping[int, int], studio_id: int, count: int) -> int:
    """When so many of the pieces can be ready at one studio."""
    here = {key: many for key, many in holds.items() if world.apparatus[key].studio_id == studio_id}
    kilns = tuple(each for each in asked.kilns if each.kiln_id in here)
    some = replace(asked, pieces=asked.pieces[:count], kilns=kilns)
    return earliest(world, some, here) if count else 0


def _table(world: World, asked: WorkAsked) -> Table:
    """For each kiln and firing every minute at which loading may begin, and when it is unloaded then."""
    return {
        (each.kiln_id, step): tuple(_placed(world, asked, each.kiln_id, step))
        for each in asked.kilns
        for step in range(len(asked.route.firings))
    }


def _placed(world: World, asked: WorkAsked, kiln_id: int, step: int) -> Iterator[tuple[int, int]]:
    firing = asked.route.firings[step]
    ask = bare_firing(
        title="all of it",
        studio_id=world.apparatus[kiln_id].studio_id,
        kiln_id=kiln_id,
        recipe=firing.recipe,
        piece=flat_piece(asked.glass, asked.thickness_mm),
        footprint_cm2=1,
    )
    staffed = world.studios[ask.studio_id].staffed[Duty.LOAD]
    for minute in (minute for span in staffed for minute in range(max(span[0], world.now), span[1])):
        washed = all(_in_time(world, ask, need, minute) for need in firing.before if not firing.in_moulds)
        answer = place(world, ask, minute) if washed else None
        if isinstance(answer, Placement):
            yield minute, answer.firings[0].held.span[1]


def _in_time(world: World, ask: Ask, need: Before, begin: int) -> bool:
    """Whether somebody was there to do it, not too long before and long enough for it to dry."""
    spans = ((max(a, world.now), b) for a, b in world.studios[ask.studio_id].staffed[Duty.LOAD])
    return any(
        max(a, begin - need.within_min - need.minutes) + need.minutes <= min(b, begin - need.dry_min)
        for a, b in spans
    )


@dataclass(kw_only=True)
class _Every:
    """Load after load into any kiln, each as soon as it can be after those that it follows there."""

    table: Table
    holds: Mapping[int, int]
    steps: int
    best: int = NEVER
    seen: set[object] = field(default_factory=set)

    def go_on(self, free: dict[int, int], pieces: tuple[tuple[int, int], ...]) -> None:
        """`pieces`: when each is ready for its next firing, and which that is."""
        if all(step == self.steps for _, step in pieces):
            self.best = min(self.best, max(ready for ready, _ in pieces))
            return
        state = tuple(sorted(free.items())), pieces
        if state in self.seen or max(ready for ready, _ in pieces) >= self.best:
            return
        self.seen.add(state)
        for kiln_id, since in free.items():
            for step in {step for _, step in pieces if step < self.steps}:
                self.load(kiln_id, since, step, free, pieces)

    def load(
        self, kiln_id: int, since: int, step: int, free: dict[int, int], pieces: tuple[tuple[int, int], ...]
    ) -> None:
        waiting = sorted(each for each in pieces if each[1] == step)
        others = [each for each in pieces if each[1] != step]
        for count in range(1, min(self.holds[kiln_id], len(waiting)) + 1):
            begins = max(since, waiting[count - 1][0])
            found = next((turn for turn in self.table[kiln_id, step] if turn[0] >= begins), None)
            if found is not None:
                after = [*others, *waiting[count:], *((found[1], step + 1) for _ in range(count))]
                self.go_on({**free, kiln_id: found[1]}, tuple(sorted(after)))
