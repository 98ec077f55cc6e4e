"""Pieces on as few shelves as can be found, beside the number that there must be at least.

First the pieces are laid in many ways; then the best of all shelf loads that came up are combined, and the bound is
raised by weighing, in turn; what few pieces leave open is left to a search. Everything is counted in steps and not in
time, so the same question has the same answer everywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import islice
from math import ceil

from scheduling.engine.packing.bounds import Bound, best
from scheduling.engine.packing.covering import NEARLY, cover
from scheduling.engine.packing.exact import Unlaid, lay_on
from scheduling.engine.packing.laying import FITS, lay_first
from scheduling.engine.packing.shapes import Footprint, Packing, Shelf, TooLarge, too_large
from scheduling.engine.packing.spaced import Spaced, placed, spaced
from scheduling.engine.packing.tried import Load, Stock, layouts
from scheduling.engine.packing.weighing import weighing

# In a second of a core with nothing else to do there is room for so much of each.
TRIES, WEIGHING, SEARCHING = 250, 0.15, 0.4
# So many pieces are searched for the very fewest shelves.
SEARCHED = 14


def pack(
    pieces: Sequence[Footprint],
    shelf: Shelf,
    *,
    seconds: float = 1.5,
    stop: Callable[[], bool] | None = None,
) -> Packing | TooLarge:
    """Lay pieces on shelves that are all alike, as few as can be found.

    `seconds` is how much may be tried, reckoned and not measured; `stop` is asked between the steps whether the
    best so far will do.
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
    bound: Bound = Bound(shelves=0, by="area")
    stock: Stock = field(init=False)

    def __post_init__(self) -> None:
        self.stock = Stock(self.what)

    def run(self) -> None:
        """From the quickest to the most thorough."""
        self.bound = best(self.what)
        for step in (self._try_many, self._weigh, self._search):
            step()

    @property
    def over(self) -> bool:
        """Nothing better can be found, or whoever asked has waited enough."""
        return self.stock.shelves <= self.bound.shelves or (self.stock.fewest is not None and self.stop())

    def _try_many(self) -> None:
        for tried in islice(layouts(self.what), max(1, round(TRIES * self.seconds))):
            self.stock.keep(tried)
            if self.over:
                return

    def _weigh(self) -> None:
        if self.over:
            return
        weighed = weighing(self.what, self.stock.loads)
        self._cover(*weighed.covering.solve())
        while not self.over and weighed.carrying.work < WEIGHING * self.seconds:
            load = weighed.go_on()
            self._raise(weighed.bound, "weights")
            if load is None:
                break
            self._realise(load)
        if not self.over:
            self._cover(*weighing(self.what, self.stock.loads).covering.solve())

    def _cover(self, least: float, worth: list[float]) -> None:
        if ceil(least - NEARLY) < self.stock.shelves:
            cover(self.stock, least, worth)

    def _realise(self, load: Load) -> None:
        """See whether a load that a shelf could carry can be laid on one."""
        for fit in FITS:
            order = sorted(load, key=lambda kind: -self.what.kinds[kind].area)
            if len(laid := lay_first(self.what, order, fit)) == 1:
                self.stock.add(laid[0])
                return

    def _search(self) -> None:
        if len(self.what.each) > SEARCHED:
            return
        while not self.over:
            found = lay_on(self.what, self.stock.shelves - 1, work=SEARCHING * self.seconds)
            if found is Unlaid.IMPOSSIBLE:
                self._raise(self.stock.shelves, "search")
            if isinstance(found, Unlaid):
                return
            self.stock.keep(found)

    def _raise(self, shelves: int, by: str) -> None:
        if shelves > self.bound.shelves:
            self.bound = Bound(shelves=shelves, by=by)
