"""A plan roughly drawn: load after load into the kiln that is done with it first.

It tells which schemes are worth more. Supplies, moulds and handwork are left out of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.laying import LoadLaid, ShelfKind
from scheduling.engine.kiln_work.turns import next_turn
from scheduling.engine.spans import Span, union

Turn = tuple[int, Span]  # in which kiln, from when until when


@dataclass(kw_only=True)
class Sketch:
    """What is drawn so far: when each piece can go on, and when each kiln is busy.

    Cold work goes on while other pieces are in the kilns; its length is all that counts here.
    """

    bench: Bench
    ready: dict[int, int]
    busy: dict[int, list[Span]] = field(default_factory=dict)

    def draw(self, loads: Iterable[LoadLaid]) -> list[int]:
        """When each load is done; what never is, is done after all that is known."""
        return [self._drawn(load, self._turn(load.kind, load.step, self.since(load))) for load in loads]

    def draw_through(self, loads: Sequence[LoadLaid]) -> list[int]:
        """The same for all firings at once: what can begin first; what is on its way before what is new."""
        waits = [_before(load, loads) for load in loads]
        done: dict[int, int] = {}
        while len(done) < len(loads):
            open_ = [at for at in range(len(loads)) if at not in done and waits[at] <= done.keys()]
            needs = {at: (loads[at].kind, loads[at].step, self.since(loads[at])) for at in open_}
            turns = {need: self._turn(*need) for need in set(needs.values())}
            at = min(open_, key=lambda at: (*self._when(turns[needs[at]], loads[at].step), at))
            done[at] = self._drawn(loads[at], turns[needs[at]])
        return [done[at] for at in range(len(loads))]

    def since(self, load: LoadLaid) -> int:
        """When all of its pieces are there."""
        return max(self.ready[piece] for piece in load.pieces)

    def _when(self, turn: Turn | None, step: int) -> tuple[int, int, int]:
        begins, done = (self.never, self.never) if turn is None else turn[1]
        return begins, -step, done

    def _turn(self, kind: ShelfKind, step: int, since: int) -> Turn | None:
        turns = [
            (kiln_id, turn)
            for kiln_id in kind.kiln_ids
            if (turn := next_turn(self.bench.usable.of(kiln_id, step), since, self.busy.get(kiln_id, ())))
        ]
        return min(turns, key=lambda one: (one[1][1], one[0]), default=None)

    def _drawn(self, load: LoadLaid, turn: Turn | None) -> int:
        done = self.never
        if turn is not None:
            kiln_id, span = turn
            done = span[1]
            self.busy[kiln_id] = list(union([*self.busy.get(kiln_id, ()), span]))
        asked = self.bench.asked
        cold = asked.cold_min_each * len(load.pieces) * asked.route.firings[load.step].cold_work
        self.ready.update(dict.fromkeys(load.pieces, done + cold))
        return done

    @property
    def never(self) -> int:
        return self.bench.world.horizon[1]

    @property
    def over(self) -> int:
        """When everything is ready."""
        return max(self.ready.values())


def _before(load: LoadLaid, loads: Sequence[LoadLaid]) -> set[int]:
    own = set(load.pieces)
    return {at for at, one in enumerate(loads) if one.step < load.step and not own.isdisjoint(one.pieces)}


def in_order(loads: Sequence[LoadLaid], done: Sequence[int]) -> list[LoadLaid]:
    """Loads in the order in which they are done."""
    return [loads[at] for at in sorted(range(len(loads)), key=lambda at: (done[at], at))]
