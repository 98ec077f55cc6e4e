"""A plan roughly drawn: load after load into the kiln that is done with it first.

It tells which schemes are worth more. Supplies, moulds and handwork are left out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from scheduling.engine.kiln_work.kilns import Usable
from scheduling.engine.kiln_work.laying import LoadLaid
from scheduling.engine.kiln_work.turns import next_turn
from scheduling.engine.spans import Span, union


@dataclass(kw_only=True)
class Sketch:
    """What is drawn so far: when each kiln is busy, and when each piece can go on."""

    usable: Usable
    begins: int
    cold_min_each: int
    busy: dict[int, list[Span]] = field(default_factory=dict)
    ready: dict[int, int] = field(default_factory=dict)

    def draw(self, loads: Iterable[LoadLaid], *, cold: bool) -> list[int] | None:
        """When each load is done; None where one never is."""
        found: list[int] = []
        ready: dict[int, int] = {}
        for load in loads:
            done = self._draw(load)
            if done is None:
                return None
            found.append(done)
            # Cold work goes on while other pieces are in the kilns; its length is all that counts here.
            over = done + self.cold_min_each * len(load.pieces) * cold
            ready.update(dict.fromkeys(load.pieces, over))
        self.ready = ready
        return found

    def _draw(self, load: LoadLaid) -> int | None:
        since = max([self.begins, *(self.ready.get(piece, 0) for piece in load.pieces)])
        turns = {
            kiln_id: turn
            for kiln_id in load.kind.kiln_ids
            if (turn := next_turn(self.usable.of(kiln_id, load.step), since, self.busy.get(kiln_id, ())))
        }
        if not turns:
            return None
        kiln_id = min(turns, key=lambda key: (turns[key][1], key))
        self.busy[kiln_id] = list(union([*self.busy.get(kiln_id, ()), turns[kiln_id]]))
        return turns[kiln_id][1]

    @property
    def over(self) -> int:
        """When everything is ready."""
        return max(self.ready.values())


def in_order(loads: Sequence[LoadLaid], done: Sequence[int]) -> list[LoadLaid]:
    """Loads in the order in which they are done."""
    return [loads[at] for at in sorted(range(len(loads)), key=lambda at: (done[at], at))]
