"""From the quickest to the most thorough: until the shelves that were found are as few as there must be.

First the pieces are laid in many ways; then the best of all shelf loads that came up are combined, and
the bound is raised by weighing; what few pieces leave open is left to a search. Everything is counted in
steps and not in time, so the same question has the same answer everywhere.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import islice
from math import ceil

from scheduling.engine.packing.bounds import Bound, best
from scheduling.engine.packing.covering import Covering, cover, covering_of
from scheduling.engine.packing.exact import Unlaid, core, lay_load, lay_on
from scheduling.engine.packing.filling import laid, worth_more
from scheduling.engine.packing.nesting import laid_nested, lay_nested, nested_orders
from scheduling.engine.packing.pushing import pushed
from scheduling.engine.packing.refuting import Refuting
from scheduling.engine.packing.spaced import Load, Spaced
from scheduling.engine.packing.tried import Stock, layouts
from scheduling.engine.packing.weighing import Weighing, weighing

# In a second of a core with nothing else to do there is room for so much of each.
TRIES, LEAST_TRIES, FILLINGS, WEIGHING, SEARCHING = 200, 12, 6, 0.7, 0.15
# With rounds fewer are tried at first, then some nested; nesting, filling and weighing share so much work.
TRIES_AT_FIRST, NESTINGS, MOST_NESTINGS = 80, 300, 40
SHARED_OF_LITTLE, SHARED_MORE, SHARED = 0.3, 0.4, 0.7
# So many shelves are filled by nesting each time, in a second or more.
FILLED = 20
# About the seconds that it takes: for a piece to nest, to fill a shelf, to push a load apart, to judge one.
NESTED, FILLING, PUSHED, JUDGED = 0.0005, 0.0025, 0.02, 0.05
# The part of that work for proofs before the first is asked for, and the most pieces that are pushed apart.
AT_FIRST, PUSHED_APART = 0.25, 10
# So many pieces are searched for the very fewest shelves.
SEARCHED = 14
# Where more than so many stand on a shelf, area alone tells how few shelves do.
MANY_ON_A_SHELF, FEW_ON_A_SHELF = 12, 5


@dataclass
class Search:
    """The fewest shelves and the highest bound so far: it is over when they meet."""

    what: Spaced
    seconds: float
    stop: Callable[[], bool]
    bound: Bound = field(init=False)
    at_random: random.Random = field(default_factory=lambda: random.Random(3))  # noqa: S311 - nothing secret
    stock: Stock = field(init=False)
    covering: Covering = field(init=False)
    refuting: Refuting = field(init=False)
    work: float = 0.0

    def __post_init__(self) -> None:
        self.stock = Stock(self.what)
        self.bound = best(self.what)
        self.refuting = Refuting(self.what)

    def run(self) -> None:
        """From the quickest to the most thorough."""
        for step in (self._try_many, self._nest, self._combine, self._weigh, self._search):
            step()

    def over(self) -> bool:
        """Nothing better can be found, or whoever asked has waited enough."""
        return self.stock.shelves <= self.bound.shelves or (self.stock.fewest is not None and self.stop())

    def _try_many(self) -> None:
        tries = max(LEAST_TRIES, round((TRIES_AT_FIRST if self.what.nesting else TRIES) * self.seconds))
        for tried in islice(layouts(self.what), tries):
            self.stock.keep(tried)
            if self.over():
                return

    @property
    def _crowded(self) -> bool:
        return len(self.what.each) > MANY_ON_A_SHELF * self.stock.shelves

    @property
    def _sparse(self) -> float:
        """The part of what may be nested else: it takes longer by the square of how many stand on a shelf."""
        return min(1.0, (FEW_ON_A_SHELF * self.stock.shelves / len(self.what.each)) ** 2)

    def _nest(self) -> None:
        """Rounds among one another: every order by a measure, and some that are shaken."""
        if self._crowded or not self.what.nesting:
            return
        tries = int(min(MOST_NESTINGS, NESTINGS * self.seconds / len(self.what.each)) * self._sparse)
        for order, merit in islice(nested_orders(self.what), tries):
            if self.over():
                return
            self.stock.keep(lay_nested(self.what, order, merit))
            self.work += NESTED * len(order)

    def _combine(self) -> None:
        """The best of all loads together, and of others that are worth more than a shelf."""
        if self.over() or self._crowded:
            return
        self.covering = covering_of(self.what, self.stock.loads)
        nested = ceil(min(1.0, self.seconds) * FILLED * self._sparse) if self.what.nesting else 0
        for _ in range(max(1, round(FILLINGS * self.seconds))):
            _, worth = self.covering.solve()
            more = worth_more(self.what, worth, self.at_random, nested=nested)
            self.work += FILLING * nested
            for layout in more:
                self.covering.add(self.stock.add(layout))
            if not more or self.over():
                break
        cover(self.stock, self.covering, thorough=False)

    def _weigh(self) -> None:
        if self.over() or self._crowded:
            return
        weighed = weighing(self.what, self.stock.loads)
        for impossible in self.refuting.rounds():
            weighed.forbid(impossible)
            if self.refuting.work > AT_FIRST * self.seconds:
                break
        while not self.over() and self._worked(weighed) < self.seconds:
            load = weighed.go_on()
            self._raise(weighed.bound, "weights")
            if load:
                self._lay(load, weighed)
            elif not self._doubt(weighed):
                break
        if not self.over():
            cover(self.stock, self.covering, thorough=True)

    def _worked(self, weighed: Weighing) -> float:
        """How much of each second's work there was."""
        if self.what.nesting:
            shared = min(SHARED, SHARED_OF_LITTLE + SHARED_MORE * self.seconds)
            return (self.work + weighed.carrying.work + self.refuting.work) / shared
        return weighed.carrying.work / WEIGHING

    def _lay(self, load: Load, weighed: Weighing) -> None:
        """See whether a load that a shelf could carry can be laid, and add it unless that is impossible."""
        found = laid(self.what, load, self.at_random)
        if found is None and self.what.nests(load):
            self.work += NESTED * len(load)
            found = laid_nested(self.what, load)
            if found is None and (impossible := self.refuting.core(load)):
                weighed.forbid(impossible)
                return
            if found is None and len(load) <= PUSHED_APART:
                self.work += PUSHED
                found = pushed(self.what, load)
        weighed.covering.add(load)
        if found:
            self.covering.add(self.stock.add(found))
        else:
            weighed.doubtful.add(load)

    def _doubt(self, weighed: Weighing) -> bool:
        """The bound rests on loads that nobody knows how to lay: whether any of them proves impossible."""
        resting = [load for load in weighed.covering.taken() if load in weighed.doubtful]
        impossible = [load for load in resting if not self.what.nests(load) and self._judge(load, weighed)]
        return bool(impossible)

    def _judge(self, load: Load, weighed: Weighing) -> bool:
        found = lay_load(self.what, load)
        weighed.carrying.work += JUDGED
        if found is Unlaid.IMPOSSIBLE:
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
            if found is Unlaid.IMPOSSIBLE and not self.what.nesting:
                self._raise(self.stock.shelves, "search")
            if isinstance(found, Unlaid):
                return
            self.stock.keep(found)

    def _raise(self, shelves: int, by: str) -> None:
        if shelves > self.bound.shelves:
            self.bound = Bound(shelves=shelves, by=by)
