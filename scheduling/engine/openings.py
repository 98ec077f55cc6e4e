"""What would open a start that does not work: another time, another studio, or a little less of something."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from scheduling.engine.choosing import nearest
from scheduling.engine.records import Ask, Kind, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said
from studios.thermal import Piece

THINNEST_MM = 3
SHORTEST_PART = 0.5
STEP_MIN = 15


class Change(StrEnum):
    """What would have to change. The values are sent by the API: they are never renamed lightly."""

    TIME = "time"
    STUDIO = "studio"
    THICKNESS = "thickness"
    LENGTH = "length"
    TORCHES = "torches"


@dataclass(frozen=True, kw_only=True)
class Opening:
    """One change, said in a sentence, and the placement that it opens."""

    change: Change
    sentence: str
    ask: Ask
    placement: Placement


def openings(world: World, asks: Sequence[Ask], start: int, space: Sequence[Span]) -> list[Opening]:
    """The smallest changes that open a start of the first of the asks; the others are other studios.

    `space` are the starts of the first that work. What keeps the time comes first, then the nearest times.
    """
    ask, *others = asks
    return [
        *_elsewhere(world, others, start),
        *_thinner(world, ask, start),
        *_shorter(world, ask, start),
        *_fewer(world, ask, start),
        *_other_times(world, ask, start, space),
    ]


def _elsewhere(world: World, others: Sequence[Ask], start: int) -> Iterator[Opening]:
    for other in others:
        answer = place(world, other, start)
        if isinstance(answer, Placement):
            sentence = said("At {studio} the same start works.", studio=world.studios[other.studio_id].name)
            yield Opening(change=Change.STUDIO, sentence=sentence, ask=other, placement=answer)


def _thinner(world: World, ask: Ask, start: int) -> Iterator[Opening]:
    thickest = max((need.piece.thickest_mm for need in ask.firings), default=0.0)
    found = _greatest(
        range(THINNEST_MM, int(thickest - 1e-9) + 1), lambda mm: _at_most(ask, mm), world, start
    )
    if found is not None:
        mm, thinner, placement = found
        sentence = said("With pieces no thicker than {mm} mm it works.", mm=mm)
        yield Opening(change=Change.THICKNESS, sentence=sentence, ask=thinner, placement=placement)


def _at_most(ask: Ask, most_mm: int) -> Ask:
    firings = tuple(replace(need, piece=_thinned(need.piece, most_mm)) for need in ask.firings)
    return replace(ask, firings=firings)


def _thinned(piece: Piece, most_mm: int) -> Piece:
    foot = None if piece.foot_mm is None else min(piece.foot_mm, float(most_mm))
    return replace(piece, thickness_mm=min(piece.thickness_mm, float(most_mm)), foot_mm=foot)


def _shorter(world: World, ask: Ask, start: int) -> Iterator[Opening]:
    least = int(ask.teach_min * SHORTEST_PART)
    lengths = range(-(-least // STEP_MIN) * STEP_MIN, ask.teach_min, STEP_MIN)
    found = _greatest(lengths, lambda minutes: replace(ask, teach_min=minutes), world, start)
    if found is not None:
        minutes, shorter, placement = found
        sentence = said("{minutes} minutes shorter it works.", minutes=ask.teach_min - minutes)
        yield Opening(change=Change.LENGTH, sentence=sentence, ask=shorter, placement=placement)


def _fewer(world: World, ask: Ask, start: int) -> Iterator[Opening]:
    torches = dict(ask.stations).get(Kind.TORCH, 0)
    found = _greatest(range(1, torches), lambda count: _with_torches(ask, count), world, start)
    if found is not None:
        count, smaller, placement = found
        sentence = said("With {number} of the {torches} torches it works.", number=count, torches=torches)
        yield Opening(change=Change.TORCHES, sentence=sentence, ask=smaller, placement=placement)


def _with_torches(ask: Ask, count: int) -> Ask:
    stations = tuple((kind, count if kind is Kind.TORCH else n) for kind, n in ask.stations)
    # A seat less for each torch that is less.
    return replace(ask, stations=stations, people=min(ask.people, count + 1 + ask.assistants))


def _greatest(
    values: Sequence[int], changed: Callable[[int], Ask], world: World, start: int
) -> tuple[int, Ask, Placement] | None:
    """The greatest of some rising values for which the start works, if it does for any.

    Less never needs more, so that they are halved.
    """
    best: tuple[int, Ask, Placement] | None = None
    low, high = 0, len(values)
    while low < high:
        middle = (low + high) // 2
        ask = changed(values[middle])
        answer = place(world, ask, start)
        if isinstance(answer, Placement):
            best, low = (values[middle], ask, answer), middle + 1
        else:
            high = middle
    return best


def _other_times(world: World, ask: Ask, start: int, space: Sequence[Span]) -> Iterator[Opening]:
    before, after = nearest(space, start)
    known = [other for other in (before, after) if other is not None]
    for other in sorted(known, key=lambda minute: abs(minute - start)):
        answer = place(world, ask, other)
        if isinstance(answer, Placement):
            sentence = _moved(other - start, at(other, world.studios[ask.studio_id]))
            yield Opening(change=Change.TIME, sentence=sentence, ask=ask, placement=answer)


def _moved(minutes: int, when: str) -> str:
    if minutes > 0:
        return said("{apart} later, at {when}, it works.", apart=_apart(minutes), when=when)
    return said("{apart} earlier, at {when}, it works.", apart=_apart(-minutes), when=when)


def _apart(minutes: int) -> str:
    """Minutes as a person says them."""
    if minutes < 120:
        return said("{count} minute", several="{count} minutes", count=minutes)
    days, rest = divmod(minutes, 24 * 60)
    if days >= 2:
        return said("{days} days", days=days)
    if minutes % 60:
        return said("{hours} hours {minutes} minutes", hours=minutes // 60, minutes=rest % 60)
    return said("{hours} hours", hours=minutes // 60)
