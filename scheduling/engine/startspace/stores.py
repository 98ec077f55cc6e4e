"""The starts that stores last for, and those for which it depends on what is chosen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from scheduling.engine.records import SPARE, Ask, Kind, Period, Store
from scheduling.engine.spans import Span, clip, intersect, subtract, union
from scheduling.engine.startspace.firings import runs
from scheduling.engine.startspace.supplies import Asked, Carried, Draw, of_run
from scheduling.engine.stores import change_over_hours, glass_drawn, room_after
from scheduling.engine.world import World

Spans = tuple[Span, ...]


def stored(world: World, ask: Ask, asked: Asked, found: Carried) -> Carried:
    """The starts, of some, for which every store has enough until it is refilled or changed over."""
    never: list[Span] = []
    unsure: list[Span] = []
    starts = union((*found.surely, *found.perhaps))
    for supply_id, own in asked.items() if starts else ():
        if (store := world.stores.get(supply_id)) is None:
            continue
        dry = intersect(_dry(store, own), starts)
        if not all(draw.exact for draw in own) or _fired_on(world, ask, supply_id):
            unsure.extend(dry)
        else:
            never.extend(subtract(dry, _rescued(world, ask, store, own, dry)) if store.change_over else dry)
    unsure.extend(_fired(world, ask, asked, starts))
    for pots, spans in _pots(world, ask):
        (never if pots == 1 else unsure).extend(spans)
    surely, perhaps = subtract(found.surely, never), subtract(found.perhaps, never)
    doubtful = union(unsure)
    return Carried(surely=subtract(surely, doubtful), perhaps=union((*perhaps, *intersect(surely, doubtful))))


def _dry(store: Store, own: Sequence[Draw]) -> Spans:
    """The starts that take more out of some period than there is left in it."""
    return union(span for period in store.periods for span in _too_much(store, own, period))


def _too_much(store: Store, own: Sequence[Draw], period: Period) -> Iterator[Span]:
    """What is taken out of a period goes up and down along straight lines as the start goes on."""
    room = max(period.room, 0.0) + SPARE
    begin, end = period.span
    if store.per_min * sum(draw.amount * (draw.end - draw.begin) for draw in own) <= room:
        return
    turns = sorted(
        {turn for draw in own for edge in (draw.begin, draw.end) for turn in (begin - edge, end - edge)}
    )
    for first, last in pairwise(turns):
        low, high = (_taken(store, own, start, period.span) for start in (first, last))
        if low > room and high > room:
            yield first, last + 1
        elif low > room or high > room:
            turn = _crossing(store, own, period.span, room, (first, last), rising=high > room)
            yield (turn, last + 1) if high > room else (first, turn)


def _crossing(
    store: Store, own: Sequence[Draw], within: Span, room: float, stretch: Span, *, rising: bool
) -> int:
    """The first start of a straight stretch that is on the other side of what there is room for."""
    first, last = stretch
    while last - first > 1:
        middle = (first + last) // 2
        over = _taken(store, own, middle, within) > room
        first, last = (first, middle) if over is rising else (middle, last)
    return last


def _taken(store: Store, own: Iterable[Draw], start: int, within: Span) -> float:
    return store.per_min * sum(
        draw.amount * max(0, min(start + draw.end, within[1]) - max(start + draw.begin, within[0]))
        for draw in own
    )


def _rescued(world: World, ask: Ask, store: Store, own: Sequence[Draw], dry: Spans) -> Spans:
    """The starts, of those that would run it dry, that a change-over before them makes possible."""
    begin = min(draw.begin for draw in own)
    found: list[Span] = []
    for index, period in enumerate(store.periods):
        if not clip(dry, (period.span[0] - begin, period.span[1] - begin)):
            continue
        later = [span for after in store.periods[index + 1 :] for span in _too_much(store, own, after)]
        hours = change_over_hours(world, world.studios[ask.studio_id], store, period)
        ends = [*(hour[0] for hour in hours[1:]), period.span[1]]
        for hour, last in zip(hours, ends, strict=True):
            changed = clip(dry, (hour[0] - begin, last - begin))
            if changed:
                rest = (hour[0], period.span[1])
                full = Period(span=rest, room=room_after(store, rest))
                found.extend(subtract(changed, (*_too_much(store, own, full), *later)))
    return union(found)


def _fired_on(world: World, ask: Ask, supply_id: int) -> bool:
    kinds = {need.kind for need in ask.firings}
    return any(supply_id in dict(a.draws) for kind in kinds for a in world.allowed(ask, kind))


def _fired(world: World, ask: Ask, asked: Asked, starts: Spans) -> Iterator[Span]:
    """The starts, of some, for which a firing that burns a store may run it dry."""
    for need in ask.firings if starts else ():
        for apparatus in world.allowed(ask, need.kind):
            for supply_id, amount in apparatus.draws:
                if (store := world.stores.get(supply_id)) is None:
                    continue
                for run in runs(world, ask, need, apparatus, starts):
                    own = (*asked.get(supply_id, ()), of_run(run, amount))
                    yield from intersect(_dry(store, own), (run.starts,))


def _pots(world: World, ask: Ask) -> Iterator[tuple[int, Spans]]:
    """For each furnace, the starts at which its pot could not give all the glass of the class."""
    if ask.glass_kg <= 0 or Kind.FURNACE not in dict(ask.stations):
        return
    furnaces = world.allowed(ask, Kind.FURNACE)
    begin, end = glass_drawn(ask.teach_min)
    for furnace in furnaces:
        if furnace.id in world.pots:
            whole = Draw(amount=ask.glass_kg, begin=begin, end=end)
            yield len(furnaces), _dry(world.pots[furnace.id].store, [whole])
