"""Which pieces are fired at which studio: all of them at one, or some here and some there.

A piece goes through its whole route at one studio. What lies somewhere already stays there, what sinks into
moulds goes where they are, and no piece goes where no shelf is large enough for it.

where each may go --all at one--> a bench --or some here, some there--> dealt out: part after part goes where
all that is there would be ready first
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, permutations, product

from scheduling.engine.kiln_work.answers import WorkRefused
from scheduling.engine.kiln_work.asked import PieceAsked, WorkAsked
from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.kilns import Usable
from scheduling.engine.kiln_work.laying import ShelfKind
from scheduling.engine.kiln_work.least import ready_bound
from scheduling.engine.kiln_work.never import no_cold_station
from scheduling.engine.kiln_work.refusals import no_kiln, nothing_left, too_large
from scheduling.engine.kiln_work.stood import stood_in
from scheduling.engine.packing import Footprint
from scheduling.engine.records import Kind
from scheduling.engine.world import World

# Pieces are dealt out in about so many parts, between so many studios at most.
PARTS, MOST_STUDIOS = 12, 3
# How much of a shelf is covered, where nothing is laid out yet: all of it, or as much as mostly is.
COVERED = (1.0, 0.75)
LARGEST_FIRST, SMALLEST_FIRST = -1, 1
NEVER = 1 << 40
Parted = tuple[Bench, ...]
# At each studio so many of each sort of pieces.
Deal = dict[int, Counter[PieceAsked]]


@dataclass(frozen=True, kw_only=True)
class Places:
    """Where pieces may go. `whole`: all that is left to be done, and the studios that could do any of it."""

    whole: Bench
    where: Mapping[PieceAsked, frozenset[int]]

    def at_one(self) -> list[Bench]:
        """The studios that can take everything."""
        every = frozenset.intersection(*self.where.values())
        return [self._bench(key, self.whole.pieces) for key in self.whole.studios if key in every]

    def parted(self) -> list[Parted]:
        """Ways to part the pieces between several studios, each once; those between the fewest first.

        One of them may be left with none.
        """
        several = (
            some
            for count in range(2, MOST_STUDIOS + 1)
            for some in combinations(self.whole.studios, count)
            if all(own & set(some) for own in self.where.values())
        )
        deals = (self._dealt(*how) for how in product(several, COVERED, (LARGEST_FIRST, SMALLEST_FIRST)))
        ways = (self._benches(deal) for deal in deals)
        return list({tuple(bench.pieces for bench in way): way for way in ways}.values())

    def otherwise(self, parted: Parted) -> Iterator[Parted]:
        """The same with a few pieces of one sort at another of its studios."""
        deal = {bench.studio_id: Counter(map(self._asked, bench.pieces)) for bench in parted}
        for own, (here, there) in product(self.where, permutations(deal, 2)):
            few = min(deal[here][own], self._few(own))
            if few and there in self.where[own] and few < deal[here].total():
                some = Counter({own: few})
                yield self._benches({**deal, here: deal[here] - some, there: deal[there] + some})

    def _dealt(self, studios: Sequence[int], covered: float, order: int) -> Deal:
        """Part after part; what has but one place is there first."""
        deal: Deal = {key: Counter() for key in studios}
        parts = sorted(self._parts(studios), key=lambda part: self._when_dealt(part[0], studios, order))
        for own, count in parts:
            after = {key: deal[key] + Counter({own: count}) for key in self._may(own, studios)}
            best = min(after, key=lambda key: self._ready(key, after[key], covered))
            deal[best] = after[best]
        return deal

    def _parts(self, studios: Sequence[int]) -> Iterator[tuple[PieceAsked, int]]:
        """Pieces that are alike, a few at a time; all at once where they have but one place."""
        for own, count in self._alike.items():
            few = self._few(own) if len(self._may(own, studios)) > 1 else len(count)
            yield from ((own, min(few, len(count) - first)) for first in range(0, len(count), few))

    @cached_property
    def _alike(self) -> Mapping[PieceAsked, tuple[int, ...]]:
        found: dict[PieceAsked, tuple[int, ...]] = {}
        for piece in self.whole.pieces:
            own = self._asked(piece)
            found[own] = (*found.get(own, ()), piece)
        return found

    def _few(self, own: PieceAsked) -> int:
        return max(1, int(self._area_mm2 / PARTS / own.footprint.area_mm2))

    @cached_property
    def _area_mm2(self) -> float:
        return sum(self._asked(piece).footprint.area_mm2 for piece in self.whole.pieces)

    def _when_dealt(self, own: PieceAsked, studios: Sequence[int], order: int) -> tuple[bool, float]:
        return len(self._may(own, studios)) > 1, order * own.footprint.area_mm2

    def _ready(self, studio_id: int, deal: Counter[PieceAsked], covered: float) -> int:
        found = ready_bound(self._benches({studio_id: deal})[0], covered=covered)
        return NEVER if found is None else found

    def _may(self, own: PieceAsked, studios: Sequence[int]) -> list[int]:
        return [key for key in studios if key in self.where[own]]

    def _asked(self, piece: int) -> PieceAsked:
        return self.whole.asked.pieces[piece]

    def _benches(self, deal: Deal) -> Parted:
        """Of pieces that are alike the first ones go to the first studio."""
        left = {own: iter(pieces) for own, pieces in self._alike.items()}
        return tuple(
            self._bench(key, sorted(next(left[own]) for own in here.elements())) for key, here in deal.items()
        )

    def _bench(self, studio_id: int, pieces: Sequence[int]) -> Bench:
        return replace(self.whole, studios=(studio_id,), pieces=tuple(pieces))


def places(world: World, asked: WorkAsked, usable: Usable) -> Places | WorkRefused:
    """Where each piece that has something left to be done may go; or why one of them may go nowhere."""
    route = asked.route.firings
    cold = asked.cold_min_each > 0
    left = [n for n, own in enumerate(asked.pieces) if own.first < len(route) or (own.unworked and cold)]
    if not left:
        return nothing_left()
    with_kilns = dict.fromkeys(world.apparatus[each.kiln_id].studio_id for each in usable.kilns)
    lying = (asked.pieces[n].studio_id for n in left if asked.pieces[n].first == len(route))
    studios = tuple(dict.fromkeys([*with_kilns, *(key for key in lying if key is not None)]))
    whole = Bench(world=world, asked=asked, usable=usable, studios=studios, pieces=tuple(left))
    where: dict[PieceAsked, frozenset[int]] = {}
    for own in dict.fromkeys(asked.pieces[n] for n in left):
        found = _places_of(whole, own)
        if isinstance(found, WorkRefused):
            return found
        where[own] = found
    return Places(whole=whole, where=where)


def _places_of(whole: Bench, own: PieceAsked) -> frozenset[int] | WorkRefused:
    may = [key for key in whole.studios if own.studio_id in {None, key}]
    feet = _stands_on(whole.asked, own)
    kinds = [kind for kind in whole.kinds if kind.studio_id in may]
    if feet and not kinds:
        return no_kiln(whole.usable.left_out)
    roomy = [key for key in may if all(_has_room(kinds, key, foot) for foot in feet)]
    if not roomy:
        alone = replace(whole.asked, pieces=(own,))
        return too_large(alone, kinds) or too_large(alone, kinds[:1]) or no_kiln(())
    if not _is_worked_cold(whole.asked, own):
        return frozenset(roomy)
    equipped = frozenset(key for key in roomy if whole.world.of_kind(key, Kind.COLD_STATION))
    return equipped or no_cold_station(whole.world.studios[roomy[0]])


def _stands_on(asked: WorkAsked, own: PieceAsked) -> list[Footprint]:
    """What it takes of a shelf, in each firing that it still needs: itself, or its mould."""
    return [stood_in(firing, (own,), (0,))[0].footprint for firing in asked.route.firings[own.first :]]


def _has_room(kinds: Sequence[ShelfKind], studio_id: int, foot: Footprint) -> bool:
    return any(kind.shelf.holds(foot) for kind in kinds if kind.studio_id == studio_id)


def _is_worked_cold(asked: WorkAsked, own: PieceAsked) -> bool:
    to_come = any(firing.cold_work for firing in asked.route.firings[own.first :])
    return asked.cold_min_each > 0 and (own.unworked or to_come)
