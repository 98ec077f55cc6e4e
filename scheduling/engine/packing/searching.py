"""From the quickest to the most thorough: until the shelves that were found are as few as there must be.

First the pieces are laid in many ways. All loads of large pieces raise the bound; the best of the shelf
loads that came up are combined; then loads on which the bound rests are laid, if they can be. What few pieces
leave open is left to a search. Everything is counted in steps and not in time, so the same question has the
same answer everywhere.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import islice
from math import ceil

from scheduling.engine.packing.bounds import Bound, best
from scheduling.engine.packing.covering import NEARLY, Covering, cover, covering_of
from scheduling.engine.packing.exact import Unlaid, lay_on
from scheduling.engine.packing.filling import filled_up, laid, worth_more
from scheduling.engine.packing.loads import every_load
from scheduling.engine.packing.nesting import laid_nested, lay_nested, nested_orders
from scheduling.engine.packing.pushing import pushed
from scheduling.engine.packing.sharing import Sharing
from scheduling.engine.packing.spaced import Layout, Load, Spaced
from scheduling.engine.packing.tried import Stock, layouts

# In a second of a core with nothing else to do there is room for so much of each.
TRIES, LEAST_TRIES, FILLINGS, LOADS, SHARPENING, SEARCHING = 200, 12, 3, 40_000, 0.3, 0.4
# With rounds fewer are tried at first, then some nested.
TRIES_AT_FIRST, NESTINGS, MOST_NESTINGS = 80, 300, 40
# So many shelves are filled by nesting each time, in a second or more.
FILLED = 20
# So much of the work, in about seconds, for laying the loads on which the bound rests, so many at once.
LAYING_SHARED, LAID_AT_ONCE = 0.2, 8
# Once so much of it is done nobody insists, and never more than so often; once so much is, no load is laid.
INSISTING, INSISTED, ALL = 0.8, 2, 1.0
# About the seconds that it takes: for a piece to nest, to fill a shelf, to lay a load, to push one apart.
NESTED, FILLING, LAYING, PUSHED = 0.0005, 0.003, 0.003, 0.02
# The most pieces that are pushed apart.
PUSHED_APART = 10
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
    sharing: Sharing | None = None
    work: float = 0.0

    def __post_init__(self) -> None:
        self.stock = Stock(self.what)
        self.bound = best(self.what)

    def run(self) -> None:
        """From the quickest to the most thorough."""
        for step in (
            self._try_many,
            self._nest,
            self._share,
            self._combine,
            self._sharpen,
            self._insist,
            self._lay_shared,
            self._search,
        ):
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

    def _share(self) -> None:
        """The bound by all loads of large pieces."""
        if self.over() or self._crowded:
            return
        if loads := every_load(self.what, most=round(LOADS * self.seconds)):
            self.sharing = Sharing(loads)
            self._raise(ceil(self.sharing.solve() - NEARLY), "loads")

    def _sharpen(self) -> None:
        """The same bound, where fours that cannot stand are left out."""
        if not self.over() and self.sharing:
            least = self.sharing.sharpen(work=SHARPENING * self.seconds, until=self.stock.shelves)
            self._raise(ceil(least - NEARLY), "loads")

    def _combine(self) -> None:
        """The best of all loads together, and of others that are worth more than a shelf."""
        if self.over() or self._crowded:
            return
        self.covering = covering_of(self.what, self.stock.loads)
        nested = ceil(min(1.0, self.seconds) * FILLED * self._sparse) if self.what.nesting else 0
        for _ in range(max(1, round(FILLINGS * self.seconds))):
            _, worth = self.covering.solve()
            more = worth_more(self.what, worth, self.at_random, nested=nested)
            self.work += FILLING * (nested or FILLED)
            for layout in more:
                self.covering.add(self.stock.add(layout))
            if not more or self.over():
                break
        cover(self.stock, self.covering, thorough=False)

    def _lay_shared(self) -> None:
        """Lay the loads of large pieces that would do best, until those that can be laid promise nothing."""
        if self.over() or self.sharing is None:
            return
        tried: set[int] = set()
        most = min(ALL * self.seconds, self._worked + LAYING_SHARED * self.seconds)
        while self._worked < most and ceil(self.sharing.least - NEARLY) < self.stock.shelves:
            rows = [row for row in self.sharing.taken() if row not in tried][:LAID_AT_ONCE]
            unlaid = []
            for row in rows:
                if self.over():
                    return
                if found := self._laid(self.sharing.loads.load(row)):
                    self.covering.add(self.stock.add(found))
                else:
                    unlaid.append(row)
            tried.update(rows)
            if not rows:
                break
            self.sharing.leave_out(unlaid)
            self.sharing.solve()
        cover(self.stock, self.covering, thorough=True)

    def _laid(self, load: Load) -> Layout | None:
        """A load of large pieces on one shelf, with what else goes beside them."""
        self.work += LAYING
        found = laid(self.what, load, self.at_random)
        if found is None and self.what.nests(load):
            self.work += NESTED * len(load)
            found = laid_nested(self.what, load)
            if found is None and len(load) <= PUSHED_APART:
                self.work += PUSHED
                found = pushed(self.what, load)
        return filled_up(self.what, found, self.at_random) if found else None

    def _insist(self) -> None:
        """Where more than one shelf might be spared, for all that is known: once more with other orders."""
        for _ in range(INSISTED):
            enough = self.stock.shelves <= self.bound.shelves + 1 or self._worked >= INSISTING * self.seconds
            if enough or self.over() or self.sharing is None:
                return
            self._combine()
            self._sharpen()

    @property
    def _worked(self) -> float:
        """About the seconds of what takes long."""
        return self.work + (self.sharing.work if self.sharing else 0.0)

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
