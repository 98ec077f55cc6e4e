"""The people of a class: over in time for the neighbours."""

from __future__ import annotations

from tests.engine.reference.parts import Book


def over_in_time(book: Book, start: int) -> bool:
    """The class itself lies between a midnight and the latest end of that day, where there is one."""
    end = start + book.ask.teach_min
    limits = [spans for spans in (book.studio.over_by, book.ask.over_by) if spans]
    return all(any(opens <= start and end <= closes for opens, closes in spans) for spans in limits)
