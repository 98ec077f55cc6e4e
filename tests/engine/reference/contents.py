"""What is left in cylinders, tanks and pots: each period's draws added up, with the start and without it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from scheduling.engine.records import Duty, Store
from tests.engine.reference.minutes import Amounts
from tests.engine.reference.parts import Book, Drawn, Part

HAIR = 1e-4
Refills = Sequence[tuple[int, float]]


def lasts(book: Book, parts: Sequence[Part]) -> bool:
    """Whether nothing runs dry of what these draw from, and no pot gives glass that it should keep."""
    asked = [each for part in parts for each in (*part.draws, *part.moved)]
    glass = [each for part in parts for each in part.glass]
    replaced = {key for part in parts for key in part.replaces}
    supplied = all(
        _covers(book, store, [each for each in asked if each.supply_id == key], replaced)
        for key, store in book.world.stores.items()
        if any(each.supply_id == key for each in asked)
    )
    return supplied and all(
        _keeps(book, book.world.pots[furnace].store, [each for each in glass if each.supply_id == furnace])
        for furnace in {each.supply_id for each in glass} & set(book.world.pots)
    )


def _covers(book: Book, store: Store, asked: Sequence[Drawn], replaced: set[int]) -> bool:
    """It lasts as it is filled, or with a change-over before the first draw."""
    freed = [(use.span, -use.amount) for use in store.uses if use.occupancy_id in replaced]
    stood = _drawn(book, store)
    then = stood + book.minutes.added_up([*((each.stretch, each.amount) for each in asked), *freed])
    if _enough(book, store, store.refills, stood, then):
        return True
    changed = change_over(book, store, min(each.stretch[0] for each in asked))
    return changed is not None and _enough(book, store, [*store.refills, (changed, store.full)], stood, then)


def _keeps(book: Book, store: Store, glass: Sequence[Drawn]) -> bool:
    stood = _drawn(book, store)
    then = stood + book.minutes.added_up((each.stretch, each.amount) for each in glass)
    return _enough(book, store, store.refills, stood, then)


def _drawn(book: Book, store: Store) -> Amounts:
    return book.minutes.added_up((use.span, use.amount) for use in store.uses)


def _enough(book: Book, store: Store, refills: Refills, stood: Amounts, then: Amounts) -> bool:
    """No period ends below the floor, but where it did so before and now ends no lower."""
    before, after = (_left(book, store, refills, drawn) for drawn in (stood, then))
    return all(new >= store.floor - HAIR or new >= old - HAIR for old, new in zip(before, after, strict=True))


def _left(book: Book, store: Store, refills: Refills, drawn: Amounts) -> list[float]:
    """What is left at the end of each period; of the last, when nothing is drawn any more."""
    ordered = sorted(refills)
    edges = [*(minute for minute, _ in ordered), book.minutes.last]
    return [
        content - store.per_min * float(drawn[book.minutes.at(begin) : book.minutes.at(end)].sum())
        for (_, content), (begin, end) in zip(ordered, pairwise(edges), strict=True)
    ]


def change_over(book: Book, store: Store, first: int) -> int | None:
    """The last minute, no later than the first draw, in which somebody is there and nothing is drawn.

    Neither in the past nor before, or in the very minute of, the refill that counts at the first draw.
    """
    if not store.change_over:
        return None
    known = [minute for minute, _ in store.refills if minute <= first]
    if not known:
        return None
    quiet = book.staffed[Duty.PRESENT] & book.to_come & (_drawn(book, store) == 0)
    quiet &= book.minutes.marked([(max(known) + 1, min(first + 1, book.world.horizon[1]))])
    found = np.flatnonzero(quiet)
    return book.minutes.first + int(found[-1]) if len(found) else None
