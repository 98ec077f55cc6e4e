"""The starts at which stations can be had: places, torches, and glory holes with what belongs to them."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import reduce

from scheduling.engine.booked import Forbidden
from scheduling.engine.breakers import drawn
from scheduling.engine.heat import HOT_STATIONS, cold_lead, has_record, heat_limits, lightable, places_of
from scheduling.engine.records import Apparatus, Ask, Kind, Taken
from scheduling.engine.spans import TOLERANCE, Span, clip, intersect, levels, overlapping, union
from scheduling.engine.startspace.windows import FAR, Edge, gaps, inside, left_between, meet, moving
from scheduling.engine.stations import plain_offsets
from scheduling.engine.world import World
from studios.thermal import ThermalError

Spans = tuple[Span, ...]


def candidates(world: World, ask: Ask, kind: Kind, within: Span) -> Iterator[tuple[Apparatus, Spans]]:
    """Each place of each piece of equipment of a kind, and the starts at which it can be had."""
    for apparatus in world.of_kind(ask.studio_id, kind):
        if ask.only is not None and apparatus.id not in ask.only:
            continue
        for place in places_of(apparatus):
            yield apparatus, _starts(world, ask, apparatus, place, within)


def certain_windows(world: World, ask: Ask) -> Iterator[Forbidden]:
    """What forbids starts whatever is chosen: the plain stations of which there is only one to choose."""
    for kind, _ in ask.stations:
        found = [a for a in world.of_kind(ask.studio_id, kind) if ask.only is None or a.id in ask.only]
        if kind not in HOT_STATIONS and len(found) == 1 and found[0].places == 1:
            before, after = plain_offsets(ask, found[0])
            yield world.claims(found[0].id).forbidden(1, -before, ask.teach_min + after)


def _starts(world: World, ask: Ask, apparatus: Apparatus, place: int, within: Span) -> Spans:
    if apparatus.kind not in HOT_STATIONS:
        return _plain(world, ask, apparatus, place, within)
    bundle = (apparatus, *world.companions(apparatus))
    members = []
    for companion in bundle:
        if companion.kind in HOT_STATIONS:
            members.append(_hot(world, ask, companion, within, shared_supplies(bundle)))
        else:
            window = (-ask.setup_min, ask.teach_min + ask.cleanup_min)
            members.append(tuple(left_between(world.claims(companion.id).forbidden(1, *window), within)))
    return reduce(intersect, members)


def _plain(world: World, ask: Ask, apparatus: Apparatus, place: int, within: Span) -> Spans:
    before, after = plain_offsets(ask, apparatus)
    forbidden = world.claims(apparatus.id).forbidden(place, -before, ask.teach_min + after)
    ready = max(within[0], world.now + before), within[1]
    return tuple(left_between(forbidden, ready))


def shared_supplies(bundle: Sequence[Apparatus]) -> frozenset[int]:
    """The supplies on which several pieces of equipment that are held together draw."""
    drawn = Counter(supply_id for apparatus in bundle for supply_id, _ in apparatus.draws)
    return frozenset(supply_id for supply_id, count in drawn.items() if count > 1)


def _hot(world: World, ask: Ask, apparatus: Apparatus, within: Span, shared: frozenset[int]) -> Spans:
    """Between two uses, as far as there is time to heat it, somebody to light it, and what it burns.

    Supplies on which others of its bundle draw too are left out here.
    """
    if not has_record(apparatus):
        return ()
    near = within[0] - longest_lead(apparatus), within[1] + ask.teach_min
    taken = _worked(world, apparatus, (within[0], near[1]))
    hours = clip(lightable(world, apparatus), near)
    for supply_id, amount in drawn(apparatus, near):
        if supply_id not in shared:
            hours = intersect(hours, _enough(world, supply_id, amount, (apparatus,), near))
    # Of two that end together an outage comes last here: it leaves the station cold.
    ended = {t.core[1]: t for t in sorted(taken, key=_is_outage)}
    found: list[Span] = []
    for gap in gaps(t.core for t in taken):
        if gap[1] > within[0] and gap[0] < within[1] and gap[1] - gap[0] >= ask.teach_min:
            found.extend(_in_gap(apparatus, ask, gap, ended.get(gap[0]), hours))
    return intersect(union(found), (within,))


def _is_outage(taken: Taken) -> bool:
    return taken.outage


def _worked(world: World, apparatus: Apparatus, near: Span) -> list[Taken]:
    """What works there in some minutes, and what worked there last before them."""
    claims = world.claims(apparatus.id)
    before = claims.before(near[0], 1)
    met = (t for t in claims.meeting(*near, 1) if t.core[1] > near[0] and t.core[0] < near[1])
    return [*([] if before is None else [before]), *met]


def _enough(world: World, supply_id: int, amount: float, own: Sequence[Apparatus], near: Span) -> Spans:
    """When a supply has so much left, beside what others than some equipment draw."""
    supply = world.supplies[supply_id]
    room = supply.limit - amount + TOLERANCE
    if room < 0:
        return ()
    return gaps(span for span, used in steps_beside(world, supply_id, own, near) if used > room)


def steps_beside(
    world: World, supply_id: int, own: Iterable[Apparatus], near: Span
) -> Sequence[tuple[Span, float]]:
    """What is drawn from a supply near some minutes by all but some equipment.

    That never draws for two uses at once: what it draws for an earlier one has ended by the next lighting,
    and what follows is lit later.
    """
    drawn = world.supplies[supply_id].draws
    steps = drawn.steps_in(*near)
    mine = [
        (_cut(use.span, near), -use.amount)
        for apparatus in own
        for taken in world.claims(apparatus.id).meeting(*near, 1)
        for use in drawn.by_occupancy.get(taken.occupancy_id or 0, ())
        if use.span[1] > near[0] and use.span[0] < near[1]
    ]
    return levels([*((_cut(span, near), amount) for span, amount in steps), *mine]) if mine else steps


def _cut(span: Span, near: Span) -> Span:
    return max(span[0], near[0]), min(span[1], near[1])


def _in_gap(apparatus: Apparatus, ask: Ask, gap: Span, earlier: Taken | None, hours: Spans) -> Iterator[Span]:
    room = (gap[0], gap[1] - ask.teach_min + 1)
    end = moving(ask.teach_min)
    for record in record_spans(apparatus):
        stretch = meet(room, record)
        if stretch[0] >= stretch[1]:
            continue
        try:
            cold = cold_lead(apparatus, stretch[0])
        except ThermalError:
            continue
        if earlier is None or earlier.outage:
            free_from = stretch if earlier is None else meet(stretch, (gap[0] + cold, FAR))
            yield from (meet(free_from, span) for span in inside(hours, moving(-cold), end))
        else:
            yield from _warm(apparatus, stretch, gap[0], hours, end)


def _warm(apparatus: Apparatus, stretch: Span, since: int, hours: Spans, end: Edge) -> Iterator[Span]:
    """After an earlier use the lighting never goes back as the start goes on, so each bound is one minute."""
    for opens, closes in overlapping(hours, stretch[0], stretch[1] + end.offset):
        latest = closes - end.offset
        if latest >= stretch[0] and opens < stretch[1]:
            first = _first_lit_from(apparatus, max(stretch[0], opens), since, opens)
            yield meet(stretch, (first, latest + 1))


def _first_lit_from(apparatus: Apparatus, start: int, since: int, opens: int) -> int:
    """The first start from `start` on, in one record's time, that is lit when the hours have begun."""
    limits = heat_limits(apparatus, start)
    low, high = start - 1, opens + len(limits)
    if high <= start:
        return start
    while high - low > 1:
        tried = (low + high) // 2
        lit = tried - bisect_left(limits, tried - since)
        low, high = (low, tried) if lit >= opens else (tried, high)
    return high


def record_spans(apparatus: Apparatus) -> Iterator[Span]:
    """The stretches of starts in each of which one thermal record is in force."""
    begins = [-FAR, *(since for since, _ in apparatus.bodies[1:])]
    yield from zip(begins, [*begins[1:], FAR], strict=True)


def longest_lead(apparatus: Apparatus) -> int:
    """The minutes that it takes to heat it from cold, by whichever of its records."""
    if not has_record(apparatus):
        return 0
    leads = [0]
    for since, _ in apparatus.bodies:
        try:
            leads.append(cold_lead(apparatus, since))
        except ThermalError:
            continue
    return max(leads)
