"""The firings that would take the pieces of a class, the best first; each worked out when it is asked for."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from scheduling.engine.claims import Blocked, said_once
from scheduling.engine.kilns import fresh, joinings, lot_of, too_small
from scheduling.engine.records import Apparatus, Ask, FiringAsk, FiringHeld, Kind, Reason
from scheduling.engine.wording import causes_of
from scheduling.engine.world import World
from studios.said import said


class Ways:
    """Joining a firing is preferred to a second night; then the smaller shelf, then the earlier end.

    The first is nearly always taken, so the others are left until it has been refused. It may be gone through
    again and again.
    """

    def __init__(self, world: World, ask: Ask, need: FiringAsk, start: int) -> None:
        self._world, self._ask, self._need, self._start = world, ask, need, start
        self._kilns = world.allowed(ask, need.kind)
        self._blocked: dict[int, list[Blocked]] = {each.id: [] for each in self._kilns}
        self._found: list[FiringHeld] = []
        self._ahead = self._in_order()

    def __iter__(self) -> Iterator[FiringHeld]:
        at = 0
        while at < len(self._found) or self._one_more():
            yield self._found[at]
            at += 1

    def none(self) -> Reason | None:
        """Why there is none; nothing where there is one."""
        return None if next(iter(self), None) is not None else _none(self._need, self._causes())

    def bounds(self) -> list[int]:
        """The starts before which nothing that is taken now comes free, of those that have been looked at."""
        return [cause.not_before for cause in self._causes() if cause.not_before is not None]

    def _causes(self) -> list[Blocked]:
        return [cause for each in self._kilns for cause in self._blocked[each.id]]

    def _one_more(self) -> bool:
        firing = next(self._ahead, None)
        if firing is not None:
            self._found.append(firing)
        return firing is not None

    def _in_order(self) -> Iterator[FiringHeld]:
        joined = [firing for each in self._kilns for firing in self._sorted_out(each, self._joinings(each))]
        yield from sorted(joined, key=self._rank)
        taken = {firing.held.apparatus_id for firing in joined}
        others = [k for k in self._kilns if k.id not in taken and not too_small(k, self._need)]
        for _, alike in groupby(sorted(others, key=_shelf), key=_shelf):
            yield from sorted((f for each in alike for f in self._fresh(each)), key=self._rank)

    def _joinings(self, kiln: Apparatus) -> Iterable[FiringHeld | Blocked]:
        if small := too_small(kiln, self._need):
            return (small,)
        lot = lot_of(self._ask, self._need, kiln, self._start)
        return joinings(self._world, kiln, lot, self._start)

    def _fresh(self, kiln: Apparatus) -> Iterator[FiringHeld]:
        lot = lot_of(self._ask, self._need, kiln, self._start)
        return self._sorted_out(kiln, (fresh(self._world, self._need, kiln, lot, self._start),))

    def _sorted_out(self, kiln: Apparatus, ways: Iterable[FiringHeld | Blocked]) -> Iterator[FiringHeld]:
        for way in ways:
            if isinstance(way, FiringHeld):
                yield way
            else:
                self._blocked[kiln.id].append(way)

    def _rank(self, firing: FiringHeld) -> tuple[int, int, int]:
        kiln = self._world.apparatus[firing.held.apparatus_id]
        return kiln.capacity_cm2, firing.held.span[1], kiln.id


def _shelf(kiln: Apparatus) -> int:
    return kiln.capacity_cm2


def combinations(needs: Sequence[Ways]) -> Iterator[tuple[FiringHeld, ...]]:
    """One way for each need, the best of all first."""
    if not needs:
        yield ()
        return
    for first in needs[0]:
        for others in combinations(needs[1:]):
            yield (first, *others)


def _none(need: FiringAsk, blocked: list[Blocked]) -> Reason:
    annealer = need.kind is Kind.ANNEALER
    lacks = said("the studio has no annealer") if annealer else said("the studio has no kiln")
    causes = causes_of(said_once(_worth_saying(blocked))) or lacks
    bounds = [b.not_before for b in blocked if b.not_before is not None]
    ends = [b.until for b in blocked if b.until is not None]
    return Reason(
        code=f"no-{need.kind.value}",
        sentence=said("No annealer can take the pieces: {causes}.", causes=causes)
        if annealer
        else said("No kiln can take the pieces: {causes}.", causes=causes),
        until=min(ends, default=None),
        not_before=min(bounds, default=None),
    )


def _worth_saying(blocked: list[Blocked]) -> Iterator[Blocked]:
    """Of several causes that name one firing, the first: it says why that cannot be joined."""
    named: set[object] = set()
    for cause in blocked:
        key = (cause.by.apparatus_id, cause.by.span) if cause.by else cause
        if key not in named:
            yield cause
        named.add(key)
