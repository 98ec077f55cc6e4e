"""Of all starts that work, the ones to offer: ranked, nearest, and the smallest change that opens a start."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from scheduling.engine.clock import days, edge_minutes, local, whole_day
from scheduling.engine.journeys import way_min
from scheduling.engine.measures import Measure, measure
from scheduling.engine.records import Ask, Placement, StudioRecord
from scheduling.engine.search import place
from scheduling.engine.spans import Span, clip
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World

QUARTER_MIN = 15
DAY_MIN = 24 * 60
SOME_DAYS_MORE = 2
# What is measured by the time of a start alone: nothing need be laid out to compare.
BY_TIME = frozenset({Measure.EARLIEST, Measure.NEAREST, Measure.TRAVEL})


@dataclass(frozen=True, kw_only=True)
class Offer:
    """A start that works: for which question, with all it holds, and how it measures by the order asked."""

    ask: Ask
    placement: Placement
    measured: float


def offers(
    world: World,
    asks: Sequence[Ask],
    within: Span,
    *,
    order: Measure = Measure.EARLIEST,
    wish: int | None = None,
    most: int = 20,
) -> list[Offer]:
    """The best starts within a span at any of the studios asked, one for each day and studio.

    `wish` is the minute that would be best; its time of day is what each other day is held against. The same
    world and question give the same offers in the same order.
    """
    if order is Measure.EARLIEST:
        return list(islice(_placed(world, _soonest(world, asks, within, most)), most))
    found = [candidate for ask in asks for candidate in _candidates(world, ask, within, order, wish)]
    if order in BY_TIME:
        return list(islice(_placed(world, sorted(found, key=_by_key)), most))
    placed = list(_placed(world, found))
    measured = [replace(o, measured=measure(world, o.ask, o.placement, order)) for o in placed]
    best = _best_of_each_day(world, measured)
    return sorted(best, key=lambda o: (round(o.measured, 6), o.placement.start, o.ask.studio_id))[:most]


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A start that works, and where it stands by its time alone."""

    ask: Ask
    start: int
    key: tuple[int, ...]


def _candidates(
    world: World, ask: Ask, within: Span, order: Measure, wish: int | None
) -> Iterator[Candidate]:
    studio = world.studios[ask.studio_id]
    by_time = order in {Measure.EARLIEST, Measure.NEAREST}
    warm = [] if by_time else sorted(_warm_starts(world, ask))
    for day, spans in by_day(start_space(world, ask, *within), studio):
        wished = _wish_on(day, wish, studio)
        starts = _by_time(spans, wished, studio) if by_time else _worth(spans, wished, studio, warm)
        every = [
            Candidate(
                ask=ask, start=start, key=(_off(world, ask, start, order, wished), start, ask.studio_id)
            )
            for start in starts
        ]
        yield from [min(every, key=_by_key)] if order in BY_TIME else every


def _off(world: World, ask: Ask, start: int, order: Measure, wished: int | None) -> int:
    """How far a start is from the best by what its time alone tells."""
    if order is Measure.TRAVEL:
        return way_min(world, ask, start)
    return abs(start - wished) if order is Measure.NEAREST and wished is not None else 0


def _by_key(candidate: Candidate) -> tuple[int, ...]:
    return candidate.key


def _soonest(world: World, asks: Sequence[Ask], within: Span, most: int) -> list[Candidate]:
    """The first start of each day; no more of the time is looked at than it takes to find so many."""
    found: list[Candidate] = []
    # Where most days have a start, so many days are enough.
    reached, days_ahead = [within[0] for _ in asks], most // max(len(asks), 1) + SOME_DAYS_MORE
    while any(begin < within[1] for begin in reached):
        for at, ask in enumerate(asks):
            end = _midnight(reached[at] + days_ahead * DAY_MIN, world.studios[ask.studio_id], within[1])
            found.extend(_candidates(world, ask, (reached[at], end), Measure.EARLIEST, None))
            reached[at] = end
        known = min(reached)
        if sum(candidate.start < known for candidate in found) >= most:
            break
        days_ahead *= 2
    return sorted(found, key=_by_key)


def _midnight(minute: int, studio: StudioRecord, last: int) -> int:
    """The midnight before a minute, or the last minute where that comes first."""
    if minute >= last:
        return last
    return whole_day(local(minute, studio.zone).date(), studio.zone)[0]


def by_day(spans: Sequence[Span], studio: StudioRecord) -> Iterator[tuple[Span, tuple[Span, ...]]]:
    """Each local day with the spans of starts that lie in it."""
    reached = None
    for start, end in spans:
        if reached is not None and end <= reached:
            continue
        for date in days(start if reached is None else max(start, reached), end, studio.zone):
            day = whole_day(date, studio.zone)
            reached = day[1]
            yield day, clip(spans, day)


def _wish_on(day: Span, wish: int | None, studio: StudioRecord) -> int | None:
    """The wished time of day on another day, by the clock of the studio."""
    if wish is None:
        return None
    return edge_minutes(local(day[0], studio.zone).date(), local(wish, studio.zone).time(), studio.zone)


def _by_time(spans: Sequence[Span], wished: int | None, studio: StudioRecord) -> list[int]:
    """The start nearest to the wish; without one the first, on a quarter of an hour where one works."""
    if wished is None:
        return [_rounded(spans[0], studio)]
    return [min((_clipped(span, wished) for span in spans), key=lambda start: abs(start - wished))]


def _worth(spans: Sequence[Span], wished: int | None, studio: StudioRecord, warm: Sequence[int]) -> list[int]:
    """The starts of a day worth measuring: the ends of its spans, the wish, and where heat is at hand."""
    starts = {_rounded(span, studio) for span in spans} | {_rounded_down(span, studio) for span in spans}
    if wished is not None:
        starts |= {_clipped(span, wished) for span in spans}
    for begin, end in spans:
        starts.update(warm[bisect_left(warm, begin) : bisect_left(warm, end)])
    return sorted(starts)


def _warm_starts(world: World, ask: Ask) -> frozenset[int]:
    """The starts that find something hot: as an earlier use ends, and as a firing holds."""
    found: set[int] = set()
    for apparatus in world.apparatus.values():
        if apparatus.studio_id == ask.studio_id:
            for taken in world.claims(apparatus.id):
                found.add(taken.core[1])
                if taken.firing is not None:
                    found |= {taken.firing.ready, taken.firing.last_in - ask.teach_min}
    return frozenset(found)


def _clipped(span: Span, minute: int) -> int:
    return min(max(minute, span[0]), span[1] - 1)


def _rounded(span: Span, studio: StudioRecord) -> int:
    """The first quarter of an hour in a span by the studio's clock, else its first minute."""
    quarter = span[0] + -local(span[0], studio.zone).minute % QUARTER_MIN
    return quarter if quarter < span[1] else span[0]


def _rounded_down(span: Span, studio: StudioRecord) -> int:
    last = span[1] - 1
    quarter = last - local(last, studio.zone).minute % QUARTER_MIN
    return quarter if quarter >= span[0] else last


def _placed(world: World, candidates: Iterable[Candidate]) -> Iterator[Offer]:
    for candidate in candidates:
        answer = place(world, candidate.ask, candidate.start)
        if isinstance(answer, Placement):
            yield Offer(ask=candidate.ask, placement=answer, measured=candidate.key[0])


def _best_of_each_day(world: World, found: Iterable[Offer]) -> Iterable[Offer]:
    best: dict[tuple[int, object], Offer] = {}
    for offer in found:
        day = local(offer.placement.start, world.studios[offer.ask.studio_id].zone).date()
        key = (offer.ask.studio_id, day)
        if key not in best or (offer.measured, offer.placement.start) < (
            best[key].measured,
            best[key].placement.start,
        ):
            best[key] = offer
    return best.values()


def nearest(spans: Sequence[Span], start: int) -> tuple[int | None, int | None]:
    """The last start that works before a minute, and the first from it on."""
    at = bisect_right(spans, start, key=lambda span: span[0])
    before = after = None
    if at:
        begin, end = spans[at - 1]
        before = min(end - 1, start - 1) if begin < start else (spans[at - 2][1] - 1 if at > 1 else None)
        after = start if start < end else None
    if after is None and at < len(spans):
        after = spans[at][0]
    return before, after
