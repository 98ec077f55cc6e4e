"""Where the work is done: furnace places, glory holes with their benches, torches, cold stations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from scheduling.engine.claims import Blocked, draws, said_once, taken_by
from scheduling.engine.curves import level
from scheduling.engine.heat import HOT_STATIONS, cold_lead, hot_candidate, places_of
from scheduling.engine.records import Apparatus, Ask, Held, Kind, Reason
from scheduling.engine.rooms import rooms_of
from scheduling.engine.spans import Span
from scheduling.engine.wording import causes_of
from scheduling.engine.world import World
from studios.said import said
from studios.thermal import Phase

NONE = {
    Kind.FURNACE: said("No place at the furnace can be had: "),
    Kind.GLORY_HOLE: said("No glory hole can be had: "),
    Kind.BENCH: said("No bench can be had: "),
    Kind.PIPE_WARMER: said("No pipe warmer can be had: "),
    Kind.TORCH: said("No torch can be had: "),
    Kind.KILN: said("No kiln can be had: "),
    Kind.ANNEALER: said("No annealer can be had: "),
    Kind.COLD_STATION: said("No cold station can be had: "),
}
MANY = {
    Kind.FURNACE: said("places at the furnace"),
    Kind.GLORY_HOLE: said("glory holes"),
    Kind.BENCH: said("benches"),
    Kind.PIPE_WARMER: said("pipe warmers"),
    Kind.TORCH: said("torches"),
    Kind.KILN: said("kilns"),
    Kind.ANNEALER: said("annealers"),
    Kind.COLD_STATION: said("cold stations"),
}


@dataclass(frozen=True, kw_only=True)
class Bundle:
    """A piece of equipment with what is held together with it, and the minutes it needs to heat."""

    held: tuple[Held, ...]
    lead_min: int
    warm: bool


Selection = tuple[Bundle, ...]


@dataclass(frozen=True, kw_only=True)
class Found:
    """What the needs for stations come to at one start.

    For each need its selections, the best first, one for each way in which they draw on supplies. `bounds`
    are the starts before which nothing that is taken now comes free.
    """

    choices: tuple[tuple[Selection, ...], ...]
    reasons: tuple[Reason, ...]
    bounds: tuple[int, ...]


def find_stations(world: World, ask: Ask, start: int) -> Found:
    """The stations that a start may hold; where a need cannot be met, the reason instead."""
    choices: list[tuple[Selection, ...]] = []
    reasons: list[Reason] = []
    bounds: list[int] = []
    for kind, count in ask.stations:
        bundles, blocked = _candidates(world, ask, start, kind, count)
        bounds.extend(b.not_before for b in blocked if b.not_before is not None)
        if len(bundles) < count:
            reasons.append(_too_few(ask, kind, count - len(bundles), blocked))
        else:
            choices.append(tuple(_selections(world, bundles, count)))
    return Found(choices=tuple(choices), reasons=tuple(reasons), bounds=tuple(bounds))


def _selections(world: World, bundles: Iterable[Bundle], count: int) -> Iterator[Selection]:
    """So many of the bundles, those that heat up soonest first.

    Those in the same room that draw alike are alike, unless something follows at them that then is lit later.
    """
    ordered = sorted(bundles, key=lambda found: found.lead_min)
    if len(ordered) == count:
        yield tuple(ordered)
        return
    alike: dict[object, list[Bundle]] = {}
    for bundle in ordered:
        drawn = tuple((key, use.amount, use.span) for held in bundle.held for key, use in held.draws)
        pots = tuple(held.apparatus_id for held in bundle.held if held.glass_kg)
        rooms = tuple(rooms_of(world, bundle.held))
        alike.setdefault((drawn, pots, rooms, _followed(world, bundle)), []).append(bundle)
    yield from _picked(list(alike.values()), count)


def _followed(world: World, bundle: Bundle) -> tuple[int, ...]:
    """The uses that give way to a bundle, where it draws on a supply."""
    apparatus = world.apparatus
    hot = [held for held in bundle.held if held.draws and apparatus[held.apparatus_id].kind in HOT_STATIONS]
    after = (world.claims(held.apparatus_id).after(held.exclusive[1], 1) for held in hot)
    return tuple(taken.occupancy_id or 0 for taken in after if taken is not None)


def _picked(groups: Sequence[list[Bundle]], count: int) -> Iterator[Selection]:
    if count == 0:
        yield ()
    elif groups:
        for taken in range(min(count, len(groups[0])), -1, -1):
            for rest in _picked(groups[1:], count - taken):
                yield (*groups[0][:taken], *rest)


def warm_notes(world: World, bundles: Iterable[Bundle]) -> list[str]:
    """A remark for each glory hole that an earlier session has left warm."""
    return [
        said(
            "{equipment} is still warm from an earlier session: {minutes} min to heat.",
            equipment=world.apparatus[bundle.held[0].apparatus_id].name,
            minutes=bundle.lead_min,
        )
        for bundle in bundles
        if bundle.warm
    ]


def _too_few(ask: Ask, kind: Kind, missing: int, blocked: list[Blocked]) -> Reason:
    causes = causes_of(said_once(blocked)) or said("the studio has no other")
    bounds = sorted(b.not_before for b in blocked if b.not_before is not None)
    ends = sorted(b.until for b in blocked if b.until is not None)
    return Reason(
        code="equipment-taken" if blocked else "equipment-missing",
        sentence=said("{lacking}{causes}.", lacking=_lacking(ask, kind, missing), causes=causes),
        until=ends[missing - 1] if len(ends) >= missing else None,
        not_before=bounds[missing - 1] if len(bounds) >= missing else None,
    )


def _lacking(ask: Ask, kind: Kind, missing: int) -> str:
    """What a need falls short of; where one piece was asked for by name, its own cause says enough."""
    count = dict(ask.stations)[kind]
    if ask.only is not None:
        return ""
    if count == 1:
        return NONE[kind]
    return said(
        "Of {count} {kinds} {left} can be had: ",
        count=count,
        kinds=MANY[kind],
        left=count - missing or said("none"),
    )


def _candidates(
    world: World, ask: Ask, start: int, kind: Kind, count: int
) -> tuple[list[Bundle], list[Blocked]]:
    """What can be had, and what cannot; the places of one piece are alike, so that no more are looked at."""
    bundles: list[Bundle] = []
    blocked: list[Blocked] = []
    for apparatus in world.of_kind(ask.studio_id, kind):
        if ask.only is not None and apparatus.id not in ask.only:
            continue
        found = [
            _candidate(world, ask, start, apparatus, place) for place in islice(places_of(apparatus), count)
        ]
        if any(isinstance(each, Blocked) for each in found):
            rest = islice(places_of(apparatus), count, None)
            found.extend(_candidate(world, ask, start, apparatus, place) for place in rest)
        bundles.extend(each for each in found if isinstance(each, Bundle))
        blocked.extend(each for each in found if isinstance(each, Blocked))
    return bundles, blocked


def _candidate(world: World, ask: Ask, start: int, apparatus: Apparatus, place: int) -> Bundle | Blocked:
    """One place of a piece of equipment with its companions, or what is in its way."""
    if apparatus.kind not in HOT_STATIONS:
        return _plain_candidate(world, ask, start, apparatus, place)
    hole = hot_candidate(world, ask, start, apparatus)
    if isinstance(hole, Blocked):
        return hole
    lead = start - hole.exclusive[0]
    members = [hole]
    for companion in world.companions(apparatus):
        member = (
            hot_candidate(world, ask, start, companion)
            if companion.kind in HOT_STATIONS
            else _bench_candidate(world, ask, start, companion, lead)
        )
        if isinstance(member, Blocked):
            return member
        members.append(member)
    return Bundle(held=tuple(members), lead_min=lead, warm=lead < cold_lead(apparatus, start))


def _plain_candidate(
    world: World, ask: Ask, start: int, apparatus: Apparatus, place: int
) -> Bundle | Blocked:
    held = plain_station(ask, start, apparatus, place)
    for taken in world.claims(apparatus.id).meeting(*held.exclusive, place):
        return taken_by(world, apparatus, taken, taken.span[1] + start - held.exclusive[0])
    if held.exclusive[0] < world.now:
        ready = start + world.now - held.exclusive[0]
        return Blocked(name=apparatus.name, says=said("cannot be made ready in the past"), not_before=ready)
    return Bundle(held=(held,), lead_min=0, warm=False)


def plain_station(ask: Ask, start: int, apparatus: Apparatus, place: int) -> Held:
    """A furnace place is held for the class; a torch also while it is purged and while it cools.

    Everything but the furnace is held for the set-up and clean-up minutes too, so that two classes do not
    meet in the doorway.
    """
    end, torch = start + ask.teach_min, apparatus.kind is Kind.TORCH
    before, after = plain_offsets(ask, apparatus)
    span = (start - before, end + after)
    return Held(
        apparatus_id=apparatus.id,
        place=place,
        span=span,
        exclusive=span,
        laid=lambda: (
            level(Phase.PURGE if torch else Phase.WORKING, (span[0], start)),
            level(Phase.WORKING, (start, end), apparatus.working_c),
            level(Phase.COOLING if torch else Phase.WORKING, (end, span[1])),
        ),
        draws=draws(apparatus, (start - apparatus.prepare_min * torch, end), ask.title),
        glass_kg=glass_at(ask) if apparatus.kind is Kind.FURNACE else 0.0,
    )


def glass_at(ask: Ask) -> float:
    """What is drawn from the pot at each place that a class holds at the furnace."""
    return ask.glass_kg / dict(ask.stations).get(Kind.FURNACE, 1)


def plain_offsets(ask: Ask, apparatus: Apparatus) -> tuple[int, int]:
    """The minutes that a plain station is held before a class and after it."""
    if apparatus.kind is Kind.FURNACE:
        return 0, 0
    return max(ask.setup_min, apparatus.prepare_min), max(ask.cleanup_min, apparatus.clear_min)


def _bench_candidate(world: World, ask: Ask, start: int, apparatus: Apparatus, lead: int) -> Held | Blocked:
    """A bench goes with its glory hole; set-up and clean-up keep others away from it."""
    end = start + ask.teach_min
    exclusive = (start - ask.setup_min, end + ask.cleanup_min)
    for taken in world.claims(apparatus.id).meeting(*exclusive, 1):
        return taken_by(world, apparatus, taken, taken.span[1] + ask.setup_min)
    return bench(apparatus, core=(start, end), exclusive=exclusive, lead_min=lead, title=ask.title)


def bench(apparatus: Apparatus, *, core: Span, exclusive: Span, lead_min: int, title: str) -> Held:
    """A bench from the lighting of its glory hole until it is cleaned up."""
    begin = min(core[0] - lead_min, exclusive[0])
    return Held(
        apparatus_id=apparatus.id,
        place=1,
        span=(begin, exclusive[1]),
        exclusive=exclusive,
        laid=lambda: (
            level(Phase.HEAT_UP, (begin, core[0])),
            level(Phase.WORKING, core),
            level(Phase.COOLING, (core[1], exclusive[1])),
        ),
        draws=draws(apparatus, core, title),
    )
