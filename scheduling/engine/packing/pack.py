"""Pieces on as few shelves as can be found, beside the number that there must be at least."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from scheduling.engine.packing.searching import Search
from scheduling.engine.packing.shapes import Footprint, Packing, Shelf, TooLarge, too_large
from scheduling.engine.packing.spaced import placed, spaced


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
    search = Search(what=spaced(pieces, shelf), seconds=seconds, stop=stop or (lambda: False))
    if pieces:
        search.run()
    layouts, bound = search.stock.fewest or [], search.bound
    return Packing(
        pieces=tuple(pieces),
        on=shelf,
        placed=placed(layouts, search.what, pieces, shelf),
        shelves=len(layouts),
        bound=bound.shelves,
        bound_by=bound.by,
    )
