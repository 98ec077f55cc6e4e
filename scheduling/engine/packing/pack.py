"""Pieces on as few shelves as can be found, beside the number that there must be at least.

First the pieces are laid in many ways; then the best of all shelf loads that came up are combined, and
the bound is raised by weighing; what few pieces leave open is left to a search. Everything is counted in
steps and not in time, so the same question has the same answer everywhere.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import floor

from scheduling.engine.packing.bounds import Bound, best
from scheduling.engine.packing.covering import Covering, cover, covering_of
from scheduling.engine.packing.exact import Unlaid, core, lay_load, lay_on
from scheduling.engine.packing.filling import laid, worth_more
from scheduling.engine.packing.nesting import laid_nested, lay_nested, nested_orders
from scheduling.engine.packing.shapes import Footprint, Packing, Shelf, TooLarge, too_large
from scheduling.engine.packing.spaced import Load, Spaced, placed, spaced
from scheduling.engine.packing.tried import Stock, layouts
from scheduling.engine.packing.weighing import Weighing, weighing

# In a second of a core with nothing else to do there is room for so much of each.
TRIES, FILLINGS, WEIGHING, SEARCHING = 200, 6, 0.7, 0.15
# Nesting takes longer by the square of how many stand on a shelf.
NESTINGS, MOST_NESTINGS, NESTED, JUDGED = 2_000, 60, 0.02, 0.05
# So many pieces are searched for the very fewest shelves.
SEARCHED = 14
# Where more than so many stand on a shelf, area alone tells how few shelves do.
MANY_ON_A_SHELF = 12


def pack(
    pieces: Sequence[Footprint],
    shelf: Shelf,
    *,
    seconds: float = 1.5,
    stop: Callable[[], bool] | None = None,
) -> Packing | TooLarge:
    """Lay pieces on shelves that are all alike, as few as can be found.

    `seconds` is how much may be tried, reckoned and not measured; `stop` is asked between the steps whether
    the best so far will do.
    """
    if found := too_large(pieces, shelf):
        return found
    search = _Search(what=spaced(pieces, shelf), seconds=seconds, stop=stop or (lambda: False))
    if pieces:
        search.run()
    layouts_, bound = search.stock.fewest or [], search.bound
    return Packing(
        pieces=tuple(pieces),
        on=shelf,
        placed=placed(layouts_, search.what, pieces, shelf),
        shelves=len(layouts_),
        bound=bound.shelves,
        bound_by=bound.by,
    )


@dataclass
class _Search:
    """The fewest shelves and the highest bound so far: it is over when they meet."""

    what: Spaced
    seconds: float
    stop: Callable[[], bool]
    bound: Bound = field(init=False)
    at_random: random.Random = field(default_factory=lambda: random.Random(3))  # noqa: S311 - nothing secret
    stock: Stock = field(init=False)
    covering: Covering = field(init=False)

    def __post_init__(self) -> None:
        self.stock = Stock(self.what)
        self.bound = best(self.what)

    def run(self) -> None:
        """From the quickest to the most thorough."""
        for step in (self._try_many, self._nest, self._combine, self._weigh, self._search):
            step()

    def over(self) -> bool:
        """Nothing better can be found, or whoever asked has waited enough."""
        return self.stock.shelves <= self.bound.shelves or (self.stock.fewest is not None and self.stop())

    def _try_many(self) -> None:
        for tried in islice(layouts(self.what), max(1, round(TRIES * self.seconds))):
            self.stock.keep(tried)
            if self.over():
                return

    @property
    def _crowded(self) -> bool:
        return len(self.what.each) > MANY_ON_A_SHELF * self.stock.shelves

    def _nest(self) -> None:
        """Rounds among one another: every order by a measure, and some that are shaken."""
        if self._crowded or not self.what.nests(self.what.each):
            return
        on_each = len(self.what.each) / self.stock.shelves
        tries = min(MOST_NESTINGS, NESTINGS * self.seconds / (len(self.what.each) * on_each**2))
        for order, merit in islice(nested_orders(self.what), floor(tries)):
            if self.over():
                return
            self.stock.keep(lay_nested(self.what, order, merit))

    def _combine(self) -> None:
        """The best of all loads together, and of others that are worth more than a shelf."""
        if self.over() or self._crowded:
            return
        self.covering = covering_of(self.what, self.stock.loads)
        for _ in range(max(1, round(FILLINGS * self.seconds))):
            _, worth = self.covering.solve()
            more = worth_more(self.what, worth, self.at_random)
            for layout in more:
                self.covering.add(self.stock.add(layout))
            if not more:
                break
        cover(self.stock, self.covering)

    def _weigh(self) -> None:
        if self.over() or self._crowded:
            return
        weighed = weighing(self.what, self.stock.loads)
        while not self.over() and weighed.carrying.work < WEIGHING * self.seconds:
            load = weighed.go_on()
            self._raise(weighed.bound, "weights")
            if load:
                self._lay(load, weighed)
            elif not self._doubt(weighed):
                break
        if not self.over():
            cover(self.stock, self.covering)

    def _lay(self, load: Load, weighed: Weighing) -> None:
        """Add a load that a shelf could carry, and see whether it can be laid."""
        weighed.covering.add(load)
        found = laid(self.what, load, self.at_random)
        if found is None and self.what.nests(load):
            found = laid_nested(self.what, load, self.at_random)
            weighed.carrying.work += NESTED
        if found:
            self.covering.add(self.stock.add(found))
        else:
            weighed.doubtful.add(load)

    def _doubt(self, weighed: Weighing) -> bool:
        """The bound rests on loads that nobody knows how to lay: whether any of them proves impossible."""
        resting = [load for load in weighed.covering.taken() if load in weighed.doubtful]
        impossible = [load for load in resting if self._judge(load, weighed)]
        return bool(impossible)

    def _judge(self, load: Load, weighed: Weighing) -> bool:
        found = lay_load(self.what, load)
        weighed.carrying.work += JUDGED
        if found is Unlaid.IMPOSSIBLE and not self.what.nests(load):
            weighed.forbid(core(self.what, load))
            return True
        weighed.doubtful.discard(load)
        if not isinstance(found, Unlaid):
            self.covering.add(self.stock.add(found))
        return False

    def _search(self) -> None:
        if len(self.what.each) > SEARCHED:
            return
        while not self.over():
            found = lay_on(self.what, self.stock.shelves - 1, work=SEARCHING * self.seconds)
            if found is Unlaid.IMPOSSIBLE and not self.what.nests(self.what.each):
                self._raise(self.stock.shelves, "search")
            if isinstance(found, Unlaid):
                return
            self.stock.keep(found)

    def _raise(self, shelves: int, by: str) -> None:
        if shelves > self.bound.shelves:
            self.bound = Bound(shelves=shelves, by=by)
