"""A slow and obvious judge: every start tried, every combination of equipment, every minute looked up.

It reads the engine's records as data and the closed forms of the thermal model, and shares no other code with
what it judges.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations, product

from scheduling.engine.records import Ask, Duty
from scheduling.engine.world import World
from tests.engine.reference.contents import lasts
from tests.engine.reference.firing import ways_to_fire
from tests.engine.reference.gathered import assisted, over_in_time, rooms_take_them
from tests.engine.reference.minutes import Minutes, Stretch
from tests.engine.reference.parts import Book, Part
from tests.engine.reference.working import places_to_work

HAIR = 1e-9


def starts_that_work(world: World, ask: Ask, begin: int, until: int) -> set[int]:
    """The minutes in [begin, until) at which the class, or the bench time, could start."""
    book = Book(world, ask, begin, until)
    return {start for start in range(begin, until) if works(book, start)}


def works(book: Book, start: int) -> bool:
    """Whether some choice of equipment can be had together, and every supply carries it."""
    if not (_in_time(book, start) and over_in_time(book, start)):
        return False
    if not (_there(book, start) and assisted(book, start)):
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
    choices = (list(chain.from_iterable(choice)) for choice in product(*needs))
    return any(_together(book, parts) and rooms_take_them(book, parts, start) for parts in choices)


def _in_time(book: Book, start: int) -> bool:
    """No start nor its set-up lies in the past, and a class not before the studio's notice."""
    notice = book.studio.notice_min if book.ask.notice else 0
    return start >= book.world.now + notice and start - book.ask.setup_min >= book.world.now


def _there(book: Book, start: int) -> bool:
    """The studio is staffed from set-up to clean-up, and whoever teaches is not wanted elsewhere."""
    begin, end = start - book.ask.setup_min, start + book.ask.teach_min + book.ask.cleanup_min
    staffed = book.minutes.every(book.staffed[Duty.PRESENT], begin, end)
    return staffed and (book.ask.person_id is None or book.minutes.none(book.engaged, begin, end))


def _together(book: Book, parts: Sequence[Part]) -> bool:
    """No place twice, every supply carries all of it, and what is stored lasts for it."""
    places = [place for part in parts for place in part.places]
    if len(set(places)) < len(places):
        return False
    carried = next((all_of_it for all_of_it in _waiting(parts) if _carried(book, all_of_it)), None)
    return carried is not None and lasts(book, carried)


def _waiting(parts: Sequence[Part]) -> Iterator[Sequence[Part]]:
    """A kiln that may wait is tried after each wait, the least first; the first that is carried counts."""
    patient = next((n for n, part in enumerate(parts) if part.waited is not None), None)
    if patient is None or (waited := parts[patient].waited) is None:
        yield parts
    else:
        yield from ([*parts[:patient], later, *parts[patient + 1 :]] for later in waited())


def _carried(book: Book, parts: Sequence[Part]) -> bool:
    """Every supply gives what all of it draws at once."""
    supplies = {each.supply_id for part in parts for each in part.draws}
    return all(_carries(book, key, parts) for key in supplies)


def _carries(book: Book, supply_id: int, parts: Sequence[Part]) -> bool:
    """Minute by minute: what stands, less what is replaced, and what is drawn in its place and anew.

    Nothing may be overdrawn while the start itself draws, nor, at any time, more than it was before.
    """
    own = [each for part in parts for each in part.draws if each.supply_id == supply_id]
    moved = [each for part in parts for each in part.moved if each.supply_id == supply_id]
    first = min(each.stretch[0] for each in (*own, *moved))
    last = max(each.stretch[1] for each in (*own, *moved))
    minutes = Minutes(first=first, last=last)
    stood = book.drawn[supply_id][book.minutes.at(first) : book.minutes.at(last)]
    added = [(each.stretch, each.amount) for each in (*own, *moved)]
    total = stood + minutes.added_up([*added, *_freed(book, supply_id, parts)])
    judged = minutes.marked(each.stretch for each in own) | (total > stood + HAIR)
    return not (total[judged] > book.world.supplies[supply_id].limit + HAIR).any()


def _freed(book: Book, supply_id: int, parts: Sequence[Part]) -> Iterator[tuple[Stretch, float]]:
    replaced = {key for part in parts for key in part.replaces}
    uses = book.world.supplies[supply_id].uses
    yield from ((use.span, -use.amount) for use in uses if use.occupancy_id in replaced)
