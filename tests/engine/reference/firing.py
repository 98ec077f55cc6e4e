"""Kilns and annealers: each firing that stands is tried, and one of its own where none can be joined."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from scheduling.engine.records import Apparatus, Duty, FiringAsk, FiringRecord, Kind, Taken
from studios.thermal import FiringPlan, Piece, Recipe
from tests.engine.reference.parts import Book, Part, drawn
from tests.engine.reference.warmth import program, record_at


def ways_to_fire(book: Book, need: FiringAsk, start: int) -> Iterator[Part]:
    """Every way for the pieces; a firing of their own only in equipment where none can be joined."""
    for apparatus in book.of_kind(need.kind):
        if need.footprint_cm2 > apparatus.capacity_cm2:
            continue
        joined = [_joined(book, need, apparatus, claim, start) for claim in book.standing(apparatus.id, 1)]
        known = [part for part in joined if part is not None]
        own = None if known else _own(book, need, apparatus, start)
        yield from known if own is None else [own]


def pieces_in(book: Book, need: FiringAsk, apparatus: Apparatus, start: int) -> tuple[int, int]:
    """When the first and the last piece goes in: while the class works, or, into a kiln, after it."""
    end = start + book.ask.teach_min
    if need.kind is Kind.KILN:
        return end + apparatus.prepare_min, end + apparatus.prepare_min
    return start, end


def _own(book: Book, need: FiringAsk, apparatus: Apparatus, start: int) -> Part | None:
    first, last = pieces_in(book, need, apparatus, start)
    plan = _plan(book, apparatus, need.recipe, (need.piece,), first)
    if plan is None:
        return None
    if apparatus.kind is Kind.KILN and apparatus.longest_wait_min:
        return _waiting(book, apparatus, plan, first)
    return _fired(book, apparatus, plan, (first, last), None)


def _waiting(book: Book, apparatus: Apparatus, plan: FiringPlan, closed: int) -> Part | None:
    """A loaded kiln waits before its program starts: each wait is tried by itself, the least first."""

    def each() -> Iterator[Part]:
        for wait in range(apparatus.longest_wait_min + 1):
            part = _fired(book, apparatus, plan, (closed, closed + wait), None)
            if part is not None:
                yield part

    first = next(each(), None)
    return None if first is None else replace(first, waited=each)


def _joined(book: Book, need: FiringAsk, apparatus: Apparatus, claim: Taken, start: int) -> Part | None:
    """Into a firing of hot pieces: near its hold, of the same annealing temperature, with room for them."""
    firing = claim.firing
    if firing is None or firing.recipe is not Recipe.ANNEAL or apparatus.kind is not Kind.ANNEALER:
        return None
    first, last = pieces_in(book, need, apparatus, start)
    if not (_near(book, firing, first, last) and _fits(book, need, apparatus, firing)):
        return None
    first = min(first, *(lot.in_from for lot in firing.lots))
    last = max(last, *(lot.in_until for lot in firing.lots))
    pieces = tuple(dict.fromkeys((*(lot.piece for lot in firing.lots), need.piece)))
    plan = _plan(book, apparatus, firing.recipe, pieces, first)
    if plan is None:
        return None
    if claim.span[0] <= book.world.now:
        # It burns already: it is at hold as it was, and its soak does not begin in the past.
        first, last = min(first, firing.ready), max(last, min(firing.last_in, book.world.now))
    return _fired(book, apparatus, plan, (first, last), claim)


def _near(book: Book, firing: FiringRecord, first: int, last: int) -> bool:
    """An idle hold lasts no longer than the studio's gap; once its soak has begun nobody joins it after."""
    gap = book.studio.hold_gap_min
    after = gap if book.world.now < firing.last_in else 0
    return first <= firing.last_in + after and last >= firing.ready - gap


def _fits(book: Book, need: FiringAsk, apparatus: Apparatus, firing: FiringRecord) -> bool:
    tolerance, mine = book.studio.policy.sharing_tolerance_k, need.piece.glass.annealing_c
    alike = all(abs(lot.piece.glass.annealing_c - mine) <= tolerance for lot in firing.lots)
    room = apparatus.capacity_cm2 - sum(lot.footprint_cm2 for lot in firing.lots)
    return alike and need.footprint_cm2 <= room


def _plan(
    book: Book, apparatus: Apparatus, recipe: Recipe, pieces: tuple[Piece, ...], first: int
) -> FiringPlan | None:
    body = record_at(apparatus, first)
    if body is None:
        return None
    return program(recipe, pieces, body, book.studio.policy, apparatus.controller_segments)


def _fired(
    book: Book, apparatus: Apparatus, plan: FiringPlan, hold: tuple[int, int], claim: Taken | None
) -> Part | None:
    """The firing, from lighting or loading to the last piece unloaded, where nothing stands in its way."""
    ready, last = hold
    cool, off = last + plan.tail_min, last + plan.switching_min
    # A kiln is loaded cold, and heats up once its program starts; what burns is attended from then on.
    kiln = plan.recipe is not Recipe.ANNEAL
    opened = ready - (apparatus.prepare_min if kiln else plan.heat_up_min)
    lit = last if kiln else opened
    unload = book.unloaded_from(cool, apparatus.clear_min)
    if unload is None or not _alone(book, apparatus, (opened, unload + apparatus.clear_min), claim):
        return None
    if not _attended(book, apparatus, (opened, ready, max(lit, ready), off), claim):
        return None
    own = claim.occupancy_id if claim is not None else None
    return Part(
        places=((apparatus.id, 1),),
        draws=drawn(apparatus, lit, off),
        replaces=frozenset() if own is None else frozenset({own}),
    )


def _alone(book: Book, apparatus: Apparatus, span: tuple[int, int], claim: Taken | None) -> bool:
    if claim is None:
        return book.minutes.none(book.taken(apparatus.id, 1), *span)
    others = [other for other in book.standing(apparatus.id, 1) if other is not claim]
    return book.minutes.none(book.minutes.marked(other.span for other in others), *span)


def _attended(
    book: Book, apparatus: Apparatus, moments: tuple[int, int, int, int], claim: Taken | None
) -> bool:
    """A kiln is loaded, an annealer lit by somebody who may; gas is attended until its program has ended.

    What is lit already, or would be lit no sooner than it is anyway, needs nobody to light it, unless it
    burns gas; gas that burns already is attended from now on.
    """
    opened, ready, burns, off = moments
    every, heated = book.minutes.every, book.heated(apparatus)
    if claim is not None and claim.span[0] <= book.world.now:
        return not apparatus.gas_fired or every(heated, book.world.now, off)
    if apparatus.gas_fired and not every(heated, burns, off):
        return False
    if claim is not None and not apparatus.gas_fired and opened >= claim.span[0]:
        return True
    return every(book.staffed[Duty.LOAD] if apparatus.kind is Kind.KILN else heated, opened, ready)
