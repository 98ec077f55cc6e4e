"""The people of a class: over in time, assisted, and no more in a room than it takes."""

from __future__ import annotations

from collections.abc import Sequence

from scheduling.engine.records import Kind
from tests.engine.reference.parts import Book, Part

HAIR = 1e-9


def over_in_time(book: Book, start: int) -> bool:
    """The class itself lies between a midnight and the latest end of that day, where there is one."""
    end = start + book.ask.teach_min
    limits = [spans for spans in (book.studio.over_by, book.ask.over_by) if spans]
    return all(any(opens <= start and end <= closes for opens, closes in spans) for spans in limits)


def assisted(book: Book, start: int) -> bool:
    """Each of those who could assist is asked; enough of them are nowhere else, nor on their way."""
    begin, end = start - book.ask.setup_min, start + book.ask.teach_min + book.ask.cleanup_min
    free = 0
    for person in set(book.ask.assistant_ids) - {book.ask.person_id}:
        others = [book.away(other) for other in book.world.people.get(person, ())]
        free += all(end <= leaves or back <= begin for leaves, back in others)
    return free >= book.ask.assistants


def rooms_take_them(book: Book, parts: Sequence[Part], start: int) -> bool:
    """Minute by minute, from the set-up to the clean-up, in every room in which somebody works."""
    begin, end = start - book.ask.setup_min, start + book.ask.teach_min + book.ask.cleanup_min
    stands = [book.world.apparatus[key] for part in parts for key, _ in part.places]
    rooms = {a.room_id for a in stands if a.kind not in {Kind.ANNEALER, Kind.KILN}}
    return all(
        there + book.ask.people <= book.world.supplies[room].limit + HAIR
        for room in rooms
        if room is not None and book.ask.people > 0
        for there in book.drawn[room][book.minutes.at(begin) : book.minutes.at(end)]
    )
