"""A slow and obvious judge: every start tried, every combination of equipment, every minute looked up.

It reads the engine's records as data and the closed forms of the thermal model, and shares no other code with
what it judges.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations, product

import numpy as np

from scheduling.engine.records import Ask, Duty, World
from tests.engine.reference.firing import ways_to_fire
from tests.engine.reference.parts import Book, Drawn, Part
from tests.engine.reference.working import places_to_work

HAIR = 1e-9


def starts_that_work(world: World, ask: Ask, begin: int, until: int) -> set[int]:
    """The minutes in [begin, until) at which the class, or the bench time, could start."""
    book = Book(world, ask, begin, until)
    return {start for start in range(begin, until) if works(book, start)}


def works(book: Book, start: int) -> bool:
    """Whether some choice of equipment can be had together, and every supply carries it."""
    if not (_in_time(book, start) and _there(book, start)):
        return False
    needs: list[list[tuple[Part, ...]]] = []
    for kind, count in book.ask.stations:
        needs.append(list(combinations(places_to_work(book, kind, start), count)))
        if not needs[-1]:
            return False
    for need in book.ask.firings:
        needs.append([(part,) for part in ways_to_fire(book, need, start)])
        if not needs[-1]:
            return False
    return any(_together(book, list(chain.from_iterable(choice))) for choice in product(*needs))


def _in_time(book: Book, start: int) -> bool:
    """Nothing starts in the past, and a class not before the studio's notice."""
    notice = book.studio.notice_min if book.ask.notice else 0
    return start >= book.world.now + notice


def _there(book: Book, start: int) -> bool:
    """The studio is staffed from set-up to clean-up, and whoever teaches is not wanted elsewhere."""
    begin, end = start - book.ask.setup_min, start + book.ask.teach_min + book.ask.cleanup_min
    staffed = book.minutes.every(book.staffed[Duty.PRESENT], begin, end)
    return staffed and (book.ask.person_id is None or book.minutes.none(book.engaged, begin, end))


def _together(book: Book, parts: Sequence[Part]) -> bool:
    """No place twice, and no supply overdrawn in a minute in which something is asked of it anew."""
    places = [place for part in parts for place in part.places]
    replaced = frozenset(key for part in parts for key in part.replaces)
    asked = [each for part in parts for each in part.draws]
    supplies = {each.supply_id for each in asked}
    return len(set(places)) == len(places) and all(
        _carries(book, key, [each for each in asked if each.supply_id == key], replaced) for key in supplies
    )


def _carries(book: Book, supply_id: int, asked: Sequence[Drawn], replaced: frozenset[int]) -> bool:
    """Minute by minute: what stands, less what is replaced, and what is asked."""
    first = min(each.stretch[0] for each in asked)
    last = max(each.stretch[1] for each in asked)
    at = book.minutes.at
    total = book.drawn[supply_id][at(first) : at(last)].copy()
    anew = np.zeros(len(total), dtype=np.bool_)
    for (begin, end), amount in _changes(book, supply_id, asked, replaced):
        total[max(begin - first, 0) : max(end - first, 0)] += amount
    for each in asked:
        anew[each.stretch[0] - first : each.stretch[1] - first] = True
    return not (total[anew] > book.world.supplies[supply_id].limit + HAIR).any()


def _changes(
    book: Book, supply_id: int, asked: Sequence[Drawn], replaced: frozenset[int]
) -> Iterator[tuple[tuple[int, int], float]]:
    yield from ((each.stretch, each.amount) for each in asked)
    uses = book.world.supplies[supply_id].uses
    yield from ((use.span, -use.amount) for use in uses if use.occupancy_id in replaced)
