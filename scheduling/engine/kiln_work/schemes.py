"""Which kinds of shelves take how many loads of a firing, and which pieces.

The largest pieces go to the largest shelf; or the smallest to the smallest one, so that it is in use, too.
Few sizes are dealt out in every other order, as rows of two may fill a shelf that the largest alone leave
half bare. The kilns are taken as they come free: with every further turn of a kiln one more load fits. The
first turns that hold everything make one scheme, a few later ones make others; so for all kilns, and for some
of them alone.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice, permutations

from scheduling.engine.kiln_work.laying import FEW_SIZES, NOTHING, Laid, Laying, ShelfKind
from scheduling.engine.kiln_work.stood import Stood, with_spacing_mm2
from scheduling.engine.packing import Footprint

# With the first turns that hold everything, so many others are looked at, too.
LATER_TURNS = 4
# Kilns that are done so much later than others are not taken alone.
SPARE_MIN = 7 * 24 * 60
Turns = Mapping[ShelfKind, Sequence[int]]
Order = tuple[Footprint, ...]
Parts = list[tuple[ShelfKind, list[Stood]]]


def schemes(laying: Laying, stood: Sequence[Stood], kinds: Sequence[ShelfKind], turns: Turns) -> list[Laid]:
    """Ways to fire all that stands, each once. `turns`: when the kilns of a kind are done.

    Once somebody waits no more, those that are laid out will do.
    """
    first = sorted(kinds, key=_largest_first)
    every = [some for count in range(1, len(first) + 1) for some in combinations(first, count)]
    soonest = {some: _soonest(laying, stood, some, turns) for some in every}
    worth = min((over for over in soonest.values() if over is not None), default=0) + SPARE_MIN
    every_way = (
        laid
        for some, over in soonest.items()
        if over is not None and over <= worth
        for parting in _ways_to_part(laying, stood, some)
        for laid in islice(parting.as_they_come_free(turns), 1 + LATER_TURNS)
    )
    found: dict[object, Laid] = {}
    for laid in every_way:
        found.setdefault(_looks(laid), laid)
        if laying.stop():
            break
    return list(found.values())


def _ways_to_part(laying: Laying, stood: Sequence[Stood], kinds: Sequence[ShelfKind]) -> Iterator[Parting]:
    """In which order the sizes are dealt out to which kind of shelves first, and whether gaps are filled."""
    largest_first = tuple(dict.fromkeys(one.footprint for one in sorted(stood, key=_by_size)))
    whole = Parting(laying=laying, stood=_in(largest_first, stood), kinds=kinds, filled=True)
    yield whole
    if len(kinds) > 1:
        yield replace(whole, filled=False)
        yield replace(whole, stood=_in(largest_first[::-1], stood), kinds=kinds[::-1])
        others = permutations(largest_first) if len(largest_first) <= FEW_SIZES else ()
        yield from (replace(whole, stood=_in(order, stood)) for order in others if order != largest_first)


def _in(order: Order, stood: Sequence[Stood]) -> list[Stood]:
    rank = {footprint: at for at, footprint in enumerate(order)}
    return sorted(stood, key=lambda one: (rank[one.footprint], one.pieces[0]))


def _soonest(laying: Laying, stood: Sequence[Stood], kinds: Sequence[ShelfKind], turns: Turns) -> int | None:
    """Before when some kilns cannot be done with everything, by the area of their shelves."""
    counts: Counter[int] = Counter()
    for done, number in _in_order(kinds, turns):
        counts[number] += 1
        if _may_hold(laying, stood, kinds, counts):
            return done
    return None


def _in_order(kinds: Sequence[ShelfKind], turns: Turns) -> list[tuple[int, int]]:
    """When each turn is over, and of which kind of kiln it is."""
    return sorted((done, number) for number, kind in enumerate(kinds) for done in turns[kind])


def _largest_first(kind: ShelfKind) -> tuple[int, int, tuple[int, ...]]:
    return -kind.shelf.length_mm * kind.shelf.width_mm, -kind.levels, kind.kiln_ids


def _looks(laid: Laid) -> tuple[tuple[ShelfKind, tuple[int, ...]], ...]:
    return tuple((load.kind, load.pieces) for load in laid.loads)


@dataclass(frozen=True, kw_only=True)
class Parting:
    """Some kinds of shelves and everything that is to be parted among them, both in their order.

    `filled`: what comes later fills the gaps that the first ones leave; else each takes the first ones left.
    """

    laying: Laying
    stood: Sequence[Stood]
    kinds: Sequence[ShelfKind]
    filled: bool

    def as_they_come_free(self, turns: Turns) -> Iterator[Laid]:
        """What is laid out for so many turns of the kilns as hold everything, and for more of them."""
        counts: Counter[int] = Counter()
        for _, number in _in_order(self.kinds, turns):
            counts[number] += 1
            if len(counts) == len(self.kinds) and _may_hold(self.laying, self.stood, self.kinds, counts):
                parts = self.parted(counts)
                every = (parts, *self.with_less_of_each(counts)) if parts is not None else ()
                yield from (_laid(self.laying, each) for each in every)

    def with_less_of_each(self, counts: Counter[int]) -> Iterator[Parts]:
        """For each kind, as few turns of it as will do when the others keep theirs."""
        for number in counts if len(self.kinds) > 1 else ():
            fewer, best = Counter(counts), None
            while fewer[number] > 1:
                fewer[number] -= 1
                parts = self.parted(fewer)
                if parts is None:
                    break
                best = parts
            if best is not None:
                yield best

    def parted(self, counts: Mapping[int, int]) -> Parts | None:
        """What goes to which kind; None where so many loads do not take it."""
        left, parts = list(self.stood), []
        for number, kind in enumerate(self.kinds):
            others = self.kinds[number + 1 :]
            here = [one for one in left if self.laying.fits(one, kind)]
            here.sort(key=lambda one: any(self.laying.fits(one, other) for other in others))
            taken = self.laying.taken(here, kind, counts[number], filled=self.filled)
            parts.append((kind, taken))
            gone = {one.pieces for one in taken}
            left = [one for one in left if one.pieces not in gone]
        return None if left else parts


def _may_hold(
    laying: Laying, stood: Sequence[Stood], kinds: Sequence[ShelfKind], counts: Mapping[int, int]
) -> bool:
    """Whether there is as much of shelf as there is of pieces with the room between them."""
    there = sum(
        count * kinds[number].levels_in(laying.firing) * kinds[number].room_mm2
        for number, count in counts.items()
    )
    spacing = min(kind.shelf.spacing_mm for kind in kinds)
    return there >= sum(with_spacing_mm2(one.footprint, spacing) for one in stood)


def _laid(laying: Laying, parts: Parts) -> Laid:
    laid = [each for kind, taken in parts if taken and (each := laying.lay(taken, kind)) is not None]
    whole = sum(laid, start=NOTHING)
    return whole if len(laid) < 2 else replace(whole, bound=_fewest(parts), bound_by=("area",))


def _fewest(parts: Parts) -> int:
    """The shelves that it takes at least however it is dealt out: by the area, were all like the roomiest."""
    room = max(kind.room_mm2 for kind, _ in parts)
    spacing = min(kind.shelf.spacing_mm for kind, _ in parts)
    return math.ceil(
        sum(with_spacing_mm2(one.footprint, spacing) for _, some in parts for one in some) / room
    )


def _by_size(one: Stood) -> tuple[float, int]:
    footprint = one.footprint
    return -footprint.length_mm * footprint.width_mm, one.pieces[0]
