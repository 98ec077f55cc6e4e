"""Places to work at: each tried by itself, its minutes looked up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scheduling.engine.records import Apparatus, Kind, Taken
from tests.engine.reference.parts import HOT, Book, Drawn, Part, drawn
from tests.engine.reference.warmth import after_a_gap, from_cold, record_at


def places_to_work(book: Book, kind: Kind, start: int) -> Iterator[Part]:
    """Every place of a kind that could be had from a start on."""
    for apparatus in book.of_kind(kind):
        if book.ask.only is not None and apparatus.id not in book.ask.only:
            continue
        if kind in HOT:
            parts = [station(book, apparatus, start)]
        else:
            parts = [plain(book, apparatus, place, start) for place in range(1, apparatus.places + 1)]
        yield from (part for part in parts if part is not None)


def plain(book: Book, apparatus: Apparatus, place: int, start: int) -> Part | None:
    """A furnace place is the class's while it works; all else from its set-up to its clean-up."""
    end, torch = start + book.ask.teach_min, apparatus.kind is Kind.TORCH
    begin, until = start, end
    if apparatus.kind is not Kind.FURNACE:
        begin -= max(book.ask.setup_min, apparatus.prepare_min)
        until += max(book.ask.cleanup_min, apparatus.clear_min)
    if begin < book.world.now or not book.minutes.none(book.taken(apparatus.id, place), begin, until):
        return None
    lit = start - apparatus.prepare_min if torch else start
    return Part(
        places=((apparatus.id, place),),
        draws=drawn(apparatus, lit, end),
        glass=gathered(book, apparatus, end),
    )


def gathered(book: Book, apparatus: Apparatus, end: int) -> tuple[Drawn, ...]:
    """A furnace gives its part of the glass of a class at each place, by the end of the class."""
    if apparatus.kind is not Kind.FURNACE or not book.ask.glass_kg:
        return ()
    places = sum(count for kind, count in book.ask.stations if kind is Kind.FURNACE)
    return (Drawn(supply_id=apparatus.id, stretch=(end - 1, end), amount=book.ask.glass_kg / places),)


def station(book: Book, apparatus: Apparatus, start: int) -> Part | None:
    """A glory hole with the bench and the pipe warmer that belong to it: all of them or none."""
    companions = [a for a in book.world.apparatus.values() if a.active and a.station_id == apparatus.id]
    members = [hot(book, apparatus, start)]
    members += [(hot if a.kind in HOT else bench)(book, a, start) for a in companions]
    known = [member for member in members if member is not None]
    if len(known) < len(members):
        return None
    return Part(
        places=tuple(place for member in known for place in member.places),
        draws=tuple(each for member in known for each in member.draws),
        moved=tuple(each for member in known for each in member.moved),
        replaces=frozenset(key for member in known for key in member.replaces),
    )


def bench(book: Book, apparatus: Apparatus, start: int) -> Part | None:
    """A bench is kept from others from the set-up to the clean-up, so that two classes do not meet."""
    end = start + book.ask.teach_min
    begin, until = start - book.ask.setup_min, end + book.ask.cleanup_min
    if not book.minutes.none(book.taken(apparatus.id, 1), begin, until):
        return None
    return Part(places=((apparatus.id, 1),), draws=drawn(apparatus, start, end))


def hot(book: Book, apparatus: Apparatus, start: int) -> Part | None:
    """Lit as late as the heat left in it allows, attended until the end, and in nobody's working hours."""
    end = start + book.ask.teach_min
    claims = book.standing(apparatus.id, 1)
    if any(claim.core[0] < end and start < claim.core[1] for claim in claims):
        return None
    heating = _heating(apparatus, start, [claim for claim in claims if claim.core[1] <= start])
    if heating is None or not book.minutes.every(book.heated(apparatus), start - heating, end):
        return None
    if any(claim.core[0] < start and start - heating < claim.core[1] for claim in claims):
        return None
    own = Part(places=((apparatus.id, 1),), draws=drawn(apparatus, start - heating, end))
    following = [claim for claim in claims if claim.core[0] >= end]
    return _giving_way(own, apparatus, min(following, key=lambda c: c.core[0], default=None), end)


def _heating(apparatus: Apparatus, works_at: int, before: list[Taken]) -> int | None:
    """Minutes from lighting: from cold at first and after an outage, else from what the last use left."""
    body = record_at(apparatus, works_at)
    if body is None or apparatus.working_c is None:
        return None
    last = max((claim.core[1] for claim in before), default=None)
    if last is None or any(claim.outage for claim in before if claim.core[1] == last):
        return from_cold(body, apparatus.working_c)
    return after_a_gap(body, apparatus.working_c, works_at - last)


def _giving_way(own: Part, apparatus: Apparatus, after: Taken | None, end: int) -> Part:
    """What follows finds it hot, so it is lit later than it stands in the book, and never earlier."""
    if after is None or after.outage or after.occupancy_id is None:
        return own
    body = record_at(apparatus, after.core[0])
    if body is None or apparatus.working_c is None:
        return own
    heating = after_a_gap(body, apparatus.working_c, after.core[0] - end)
    lit = end if heating is None else after.core[0] - heating
    anew = drawn(apparatus, max(lit, after.span[0]), after.core[1])
    return replace(own, moved=anew, replaces=frozenset({after.occupancy_id}))
