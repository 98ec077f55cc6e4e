"""Where the work is done: furnace places, glory holes with their benches, torches, cold stations."""

from __future__ import annotations

from dataclasses import dataclass

from scheduling.engine.curves import laid, level
from scheduling.engine.records import Apparatus, Ask, Duty, Held, Kind, Reason, Taken, Use, World
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.wording import at, clock_time, degrees, listed
from studios.thermal import Phase, cool_down_curve, heat_up_curve, reheat_min

HOT_STATIONS = frozenset({Kind.GLORY_HOLE, Kind.PIPE_WARMER})
NEVER = 1 << 40


@dataclass(frozen=True, kw_only=True)
class Blocked:
    """Why one piece of equipment cannot be had at a start, until when, and what start it might allow."""

    sentence: str
    until: int
    not_before: int


@dataclass(frozen=True, kw_only=True)
class Bundle:
    """A piece of equipment with all that is held together with it, and the minutes it needs to heat."""

    held: tuple[Held, ...]
    lead_min: int
    warm: bool


def stations(world: World, ask: Ask, start: int) -> tuple[tuple[Held, ...], tuple[str, ...], tuple[Reason, ...]]:
    """The stations that a start holds; where a need cannot be met, the reason instead."""
    held: list[Held] = []
    notes: list[str] = []
    reasons: list[Reason] = []
    for kind, count in ask.stations:
        bundles, blocked = _candidates(world, ask, start, kind)
        if len(bundles) < count:
            reasons.append(_short(world, ask, kind, count, len(bundles), blocked))
            continue
        for bundle in sorted(bundles, key=lambda b: b.lead_min)[:count]:
            held.extend(bundle.held)
            notes.extend(_warm_note(world, bundle))
    return tuple(held), tuple(notes), tuple(reasons)


def _warm_note(world: World, bundle: Bundle) -> list[str]:
    name = world.apparatus[bundle.held[0].apparatus_id].name
    return [f"{name} is still warm: {bundle.lead_min} min to heat."] if bundle.warm else []


def _candidates(world: World, ask: Ask, start: int, kind: Kind) -> tuple[list[Bundle], list[Blocked]]:
    bundles, blocked = [], []
    for apparatus in world.of_kind(ask.studio_id, kind):
        if ask.only is not None and apparatus.id not in ask.only:
            continue
        for place in range(1, apparatus.places + 1):
            found = _bundle(world, ask, start, apparatus, place)
            bundles.append(found) if isinstance(found, Bundle) else blocked.append(found)
    return bundles, blocked


def _bundle(world: World, ask: Ask, start: int, apparatus: Apparatus, place: int) -> Bundle | Blocked:
    """One place of a piece of equipment with its companions, or what is in its way."""
    if apparatus.kind not in HOT_STATIONS:
        return _plain_bundle(world, ask, start, apparatus, place)
    hole = _hot(world, ask, start, apparatus)
    if isinstance(hole, Blocked):
        return hole
    lead = start - hole.exclusive[0]
    members = [hole]
    for companion in world.companions(apparatus):
        part = (
            _hot(world, ask, start, companion)
            if companion.kind in HOT_STATIONS
            else _bench(world, ask, start, companion, lead)
        )
        if isinstance(part, Blocked):
            return part
        members.append(part)
    cold = heat_up(apparatus)
    return Bundle(held=tuple(members), lead_min=lead, warm=lead < cold)


def _plain_bundle(world: World, ask: Ask, start: int, apparatus: Apparatus, place: int) -> Bundle | Blocked:
    held = plain_station(ask, start, apparatus, place)
    for taken in on_place(world, apparatus.id, place):
        if _overlap(taken.span, held.exclusive):
            return _blocked(world, apparatus, taken, start + taken.span[1] - held.exclusive[0])
    return Bundle(held=(held,), lead_min=start - held.exclusive[0], warm=False)


def plain_station(ask: Ask, start: int, apparatus: Apparatus, place: int) -> Held:
    """A furnace place is held for the class; a torch also while it is purged and while it cools.

    Everything but the furnace is held for the set-up and clean-up minutes too, so that two classes do not
    meet in the doorway.
    """
    end = start + ask.teach_min
    if apparatus.kind is Kind.FURNACE:
        working = level(Phase.WORKING, (start, end), apparatus.working_c)
        return Held(
            apparatus_id=apparatus.id, place=place, span=(start, end), exclusive=(start, end), phases=(working,),
            draws=(),
        )
    before, after = max(ask.setup_min, apparatus.prepare_min), max(ask.cleanup_min, apparatus.clear_min)
    torch = apparatus.kind is Kind.TORCH
    phases = (
        level(Phase.PURGE if torch else Phase.WORKING, (start - before, start)),
        level(Phase.WORKING, (start, end)),
        level(Phase.COOLING if torch else Phase.WORKING, (end, end + after)),
    )
    span = (start - before, end + after)
    return Held(
        apparatus_id=apparatus.id,
        place=place,
        span=span,
        exclusive=span,
        phases=tuple(phase for phase in phases if phase.span[0] < phase.span[1]),
        draws=draws(apparatus, (start - apparatus.prepare_min, end), ask.title),
    )


def _bench(world: World, ask: Ask, start: int, apparatus: Apparatus, lead: int) -> Held | Blocked:
    """A bench goes with its glory hole; set-up and clean-up keep others away from it."""
    end = start + ask.teach_min
    exclusive = (start - ask.setup_min, end + ask.cleanup_min)
    for taken in on_place(world, apparatus.id, 1):
        if _overlap(taken.span, exclusive):
            return _blocked(world, apparatus, taken, taken.span[1] + ask.setup_min)
    begin = start - max(lead, ask.setup_min)
    phases = (
        level(Phase.HEAT_UP, (begin, start)),
        level(Phase.WORKING, (start, end)),
        level(Phase.COOLING, (end, exclusive[1])),
    )
    return Held(
        apparatus_id=apparatus.id,
        place=1,
        span=(begin, exclusive[1]),
        exclusive=exclusive,
        phases=tuple(phase for phase in phases if phase.span[0] < phase.span[1]),
    )


def _hot(world: World, ask: Ask, start: int, apparatus: Apparatus) -> Held | Blocked:
    """A glory hole or pipe warmer: free while it works, and time (and somebody) to heat it before."""
    if apparatus.body is None or apparatus.working_c is None:
        return Blocked(
            sentence=f"{apparatus.name} has no thermal record or working temperature: enter them",
            until=NEVER,
            not_before=NEVER,
        )
    core = (start, start + ask.teach_min)
    before: int | None = None
    for taken in on_place(world, apparatus.id, 1):
        if _overlap(taken.core, core):
            return _blocked(world, apparatus, taken, taken.core[1])
        if taken.core[1] <= start:
            before = taken.core[1] if not taken.outage else None
            cold_from = taken.core[1] if taken.outage else None
            if cold_from is not None and start - heat_up(apparatus) < cold_from:
                return _blocked(world, apparatus, taken, cold_from + heat_up(apparatus))
    held = hot_station(apparatus, core=core, before=before, after=None, title=ask.title)
    return _unattended(world, ask, apparatus, held, before) or held


def _unattended(world: World, ask: Ask, apparatus: Apparatus, held: Held, before: int | None) -> Blocked | None:
    """Gas is attended from lighting to off; electric heat-up may run unattended where the studio says so."""
    studio = world.studios[ask.studio_id]
    start, end = held.exclusive
    if not apparatus.gas_fired and studio.electric_unattended:
        return None
    staffed = studio.staffed[Duty.LIGHT]
    if covers(staffed, start, end):
        return None
    lit = first_fit(staffed, start, end - start)
    lead = 0 if before is not None else heat_up(apparatus)
    return Blocked(
        sentence=(
            f"{apparatus.name} must be lit at {at(start, studio)} to be at "
            f"{degrees(apparatus.working_c or 0, studio)} at {clock_time(held.phases[-1].span[0] if not held.phases else start, studio)}"
        ),
        until=lit if lit is not None else NEVER,
        not_before=max(lit + lead, held.exclusive[0] + 1) if lit is not None else NEVER,
    )


def heat_up(apparatus: Apparatus) -> int:
    """Minutes to heat a cold station to its working temperature, rounded up."""
    if apparatus.body is None or apparatus.working_c is None:
        return 0
    return heat_up_curve(apparatus.body, from_c=apparatus.body.ambient_c, to_c=apparatus.working_c).whole_min
