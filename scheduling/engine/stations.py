"""Where the work is done: furnace places, glory holes with their benches, torches, cold stations."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduling.engine.curves import laid, level
from scheduling.engine.records import (
    Apparatus,
    Ask,
    Duty,
    Held,
    Kind,
    PhaseSpan,
    Reason,
    Taken,
    Use,
    World,
)
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.wording import at, degrees, listed
from studios.thermal import Body, Curve, Phase, cool_down_curve, heat_up_curve, reheat_min

HOT_STATIONS = frozenset({Kind.GLORY_HOLE, Kind.PIPE_WARMER})
ONE = {kind: kind.value.replace("-", " ") for kind in Kind} | {Kind.FURNACE: "place at the furnace"}
MANY = {kind: f"{one}s" for kind, one in ONE.items()} | {
    Kind.FURNACE: "places at the furnace",
    Kind.TORCH: "torches",
    Kind.BENCH: "benches",
}
PLURAL = {"is ": "are ", "has ": "have "}
COLD = 1 << 20  # a gap, in minutes, after which nothing is left of an earlier session's heat


@dataclass(frozen=True, kw_only=True)
class Blocked:
    """Why one piece of equipment cannot be had, until when, and the earliest start that it might allow.

    `name` is the equipment, `says` the rest of the sentence; empty where there is nothing worth saying. None
    for `until` and `not_before`: not within the horizon. `by` is what has it, where something has.
    """

    name: str
    says: str
    until: int | None = None
    not_before: int | None = None
    by: Taken | None = None


@dataclass(frozen=True, kw_only=True)
class Bundle:
    """A piece of equipment with what is held together with it, and the minutes it needs to heat."""

    held: tuple[Held, ...]
    lead_min: int
    warm: bool


@dataclass(frozen=True, kw_only=True)
class Found:
    """What the needs for stations come to at one start."""

    held: tuple[Held, ...]
    notes: tuple[str, ...]
    reasons: tuple[Reason, ...]


def find_stations(world: World, ask: Ask, start: int) -> Found:
    """The stations that a start holds; where a need cannot be met, the reason instead."""
    held: list[Held] = []
    notes: list[str] = []
    reasons: list[Reason] = []
    for kind, count in ask.stations:
        bundles, blocked = _candidates(world, ask, start, kind)
        if len(bundles) < count:
            reasons.append(_too_few(ask, kind, count - len(bundles), blocked))
            continue
        for bundle in sorted(bundles, key=lambda found: found.lead_min)[:count]:
            held.extend(bundle.held)
            notes.extend(_warm_note(world, bundle))
    return Found(held=tuple(held), notes=tuple(notes), reasons=tuple(reasons))


def _warm_note(world: World, bundle: Bundle) -> list[str]:
    name = world.apparatus[bundle.held[0].apparatus_id].name
    return [f"{name} is still warm from an earlier session: {bundle.lead_min} min to heat."] * bundle.warm


def _too_few(ask: Ask, kind: Kind, missing: int, blocked: list[Blocked]) -> Reason:
    causes = "; ".join(said_once(blocked)) or "the studio has no other"
    bounds = sorted(b.not_before for b in blocked if b.not_before is not None)
    ends = sorted(b.until for b in blocked if b.until is not None)
    return Reason(
        code="equipment-taken" if blocked else "equipment-missing",
        sentence=f"{_lacking(ask, kind, missing)}{causes}.",
        until=ends[missing - 1] if len(ends) >= missing else None,
        not_before=bounds[missing - 1] if len(bounds) >= missing else None,
    )


def _lacking(ask: Ask, kind: Kind, missing: int) -> str:
    """What a need falls short of; where one piece was asked for by name, its own cause says enough."""
    count = dict(ask.stations)[kind]
    if ask.only is not None:
        return ""
    if count == 1:
        return f"No {ONE[kind]} can be had: "
    return f"Of {count} {MANY[kind]} {count - missing or 'none'} can be had: "


def said_once(blocked: Iterable[Blocked]) -> Iterator[str]:
    """Each cause once, with all the equipment that it is the cause for."""
    names: dict[str, list[str]] = {}
    for cause in blocked:
        if cause.says:
            names.setdefault(cause.says, []).append(cause.name)
    for says, found in names.items():
        several = list(dict.fromkeys(found))
        yield f"{listed(several)} {_of_many(says) if len(several) > 1 else says}"


def _of_many(says: str) -> str:
    for one, many in PLURAL.items():
        if says.startswith(one):
            return many + says.removeprefix(one)
    return says


def _candidates(world: World, ask: Ask, start: int, kind: Kind) -> tuple[list[Bundle], list[Blocked]]:
    bundles: list[Bundle] = []
    blocked: list[Blocked] = []
    for apparatus in world.of_kind(ask.studio_id, kind):
        if ask.only is not None and apparatus.id not in ask.only:
            continue
        for place in range(1, apparatus.places + 1):
            found = _candidate(world, ask, start, apparatus, place)
            if isinstance(found, Bundle):
                bundles.append(found)
            else:
                blocked.append(found)
    return bundles, blocked


def _candidate(world: World, ask: Ask, start: int, apparatus: Apparatus, place: int) -> Bundle | Blocked:
    """One place of a piece of equipment with its companions, or what is in its way."""
    if apparatus.kind not in HOT_STATIONS:
        return _plain_candidate(world, ask, start, apparatus, place)
    hole = _hot_candidate(world, ask, start, apparatus)
    if isinstance(hole, Blocked):
        return hole
    lead = start - hole.exclusive[0]
    members = [hole]
    for companion in world.companions(apparatus):
        member = (
            _hot_candidate(world, ask, start, companion)
            if companion.kind in HOT_STATIONS
            else _bench_candidate(world, ask, start, companion, lead)
        )
        if isinstance(member, Blocked):
            return member
        members.append(member)
    return Bundle(held=tuple(members), lead_min=lead, warm=lead < cold_lead(apparatus))


def _plain_candidate(
    world: World, ask: Ask, start: int, apparatus: Apparatus, place: int
) -> Bundle | Blocked:
    held = plain_station(ask, start, apparatus, place)
    for taken in on_place(world, apparatus.id, place):
        if overlap(taken.span, held.exclusive):
            return taken_by(world, apparatus, taken, taken.span[1] + start - held.exclusive[0])
    return Bundle(held=(held,), lead_min=0, warm=False)


def plain_station(ask: Ask, start: int, apparatus: Apparatus, place: int) -> Held:
    """A furnace place is held for the class; a torch also while it is purged and while it cools.

    Everything but the furnace is held for the set-up and clean-up minutes too, so that two classes do not
    meet in the doorway.
    """
    end = start + ask.teach_min
    furnace, torch = apparatus.kind is Kind.FURNACE, apparatus.kind is Kind.TORCH
    before = 0 if furnace else max(ask.setup_min, apparatus.prepare_min)
    after = 0 if furnace else max(ask.cleanup_min, apparatus.clear_min)
    span = (start - before, end + after)
    return Held(
        apparatus_id=apparatus.id,
        place=place,
        span=span,
        exclusive=span,
        phases=lasting(
            level(Phase.PURGE if torch else Phase.WORKING, (span[0], start)),
            level(Phase.WORKING, (start, end), apparatus.working_c),
            level(Phase.COOLING if torch else Phase.WORKING, (end, span[1])),
        ),
        draws=draws(apparatus, (start - apparatus.prepare_min * torch, end), ask.title),
    )


def _bench_candidate(world: World, ask: Ask, start: int, apparatus: Apparatus, lead: int) -> Held | Blocked:
    """A bench goes with its glory hole; set-up and clean-up keep others away from it."""
    end = start + ask.teach_min
    exclusive = (start - ask.setup_min, end + ask.cleanup_min)
    for taken in on_place(world, apparatus.id, 1):
        if overlap(taken.span, exclusive):
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
        phases=lasting(
            level(Phase.HEAT_UP, (begin, core[0])),
            level(Phase.WORKING, core),
            level(Phase.COOLING, (core[1], exclusive[1])),
        ),
        draws=draws(apparatus, core, title),
    )


def _hot_candidate(world: World, ask: Ask, start: int, apparatus: Apparatus) -> Held | Blocked:
    """A glory hole or pipe warmer: free while it works, with time and somebody to heat it before."""
    if apparatus.body is None or apparatus.working_c is None:
        return Blocked(name=apparatus.name, says="has no thermal record or no working temperature")
    core = (start, start + ask.teach_min)
    earlier: Taken | None = None
    for taken in on_place(world, apparatus.id, 1):
        if overlap(taken.core, core):
            return taken_by(world, apparatus, taken, taken.core[1])
        earlier = taken if taken.core[1] <= start else earlier
    gap = gap_before(start, earlier)
    held = hot_station(apparatus, core=core, gap_min=gap, until=None, title=ask.title)
    if earlier is not None and held.exclusive[0] < earlier.core[1]:
        return taken_by(world, apparatus, earlier, earlier.core[1] + start - held.exclusive[0])
    return _unlit(world, ask, apparatus, held, gap) or held


def gap_before(start: int, earlier: Taken | None) -> int:
    """The minutes since a station last worked; after an outage, or with nothing before it, it is cold."""
    return COLD if earlier is None or earlier.outage else min(start - earlier.core[1], COLD)


def hot_station(apparatus: Apparatus, *, core: Span, gap_min: int, until: int | None, title: str) -> Held:
    """A glory hole or pipe warmer heats up from the temperature it has then, works, and cools to the touch.

    `gap_min` is the time since it last worked, `until` the lighting that cuts its cooling short. The cooling
    is stored, but refuses nobody.
    """
    body, working_c = _record(apparatus)
    lead = lead_min(apparatus, gap_min)
    heating = _heating(body, working_c, gap_min, lead, core[0])
    cooling = laid(_to_touch(apparatus, body, working_c), core[1], until=until)
    phases = lasting(*heating, level(Phase.WORKING, core, working_c), *cooling)
    return Held(
        apparatus_id=apparatus.id,
        place=1,
        span=(phases[0].span[0], phases[-1].span[1]),
        exclusive=(core[0] - lead, core[1]),
        phases=phases,
        draws=draws(apparatus, (core[0] - lead, core[1]), title),
    )


def _to_touch(apparatus: Apparatus, body: Body, from_c: float) -> Curve:
    """Cooling until it may be touched; in a hot room not below the temperature at which a door is opened."""
    return cool_down_curve(body, from_c=from_c, to_c=max(apparatus.touch_c, body.opening_c))


def _record(apparatus: Apparatus) -> tuple[Body, float]:
    if apparatus.body is None or apparatus.working_c is None:
        raise ValueError(f"{apparatus.name} has no thermal record")
    return apparatus.body, apparatus.working_c


def lead_min(apparatus: Apparatus, gap_min: int) -> int:
    """Minutes of heat-up before it works: fewer when an earlier session left it warm, never over the gap."""
    body, working_c = _record(apparatus)
    return cold_lead(apparatus) if gap_min >= COLD else reheat_min(body, gap_min=gap_min, working_c=working_c)


def cold_lead(apparatus: Apparatus) -> int:
    """Minutes to heat a cold station to its working temperature, rounded up."""
    body, working_c = _record(apparatus)
    return heat_up_curve(body, from_c=body.ambient_c, to_c=working_c).whole_min


def _heating(body: Body, working_c: float, gap_min: int, lead: int, ready: int) -> tuple[PhaseSpan, ...]:
    """Heating from the temperature it has when lit; a curve shorter than the lead ends early and holds."""
    from_c = body.ambient_c if gap_min >= COLD else body.cooled_c(working_c, gap_min - lead)
    curve = laid(heat_up_curve(body, from_c=from_c, to_c=working_c), ready - lead, until=ready)
    hot_at = curve[-1].span[1] if curve else ready - lead
    return (*curve, level(Phase.HOLDING, (hot_at, ready), working_c))


def _unlit(world: World, ask: Ask, apparatus: Apparatus, held: Held, gap: int) -> Blocked | None:
    """Gas is attended from lighting to off; electric heat-up may run unattended where the studio says so."""
    studio = world.studios[ask.studio_id]
    if not apparatus.gas_fired and studio.electric_unattended:
        return None
    lit, off = held.exclusive
    if covers(studio.staffed[Duty.LIGHT], lit, off):
        return None
    start = off - ask.teach_min
    fit = _lit_next(world, ask, apparatus, start, start - lit if gap >= COLD else 0)
    hot = degrees(_record(apparatus)[1], studio)
    return Blocked(
        name=apparatus.name,
        says=(
            f"must be lit at {at(lit, studio)} to be at {hot} in time, and attended to the end; "
            "nobody who may light it is there for all of that"
        ),
        until=fit,
        not_before=fit,
    )


def _lit_next(world: World, ask: Ask, apparatus: Apparatus, start: int, lead: int) -> int | None:
    """The first start that somebody could light it for, or that finds it hot after the use that follows.

    A cold station needs the whole lead; what a warm one needs grows with the gap, so its bound has none.
    """
    staffed = world.studios[ask.studio_id].staffed[Duty.LIGHT]
    fit = first_fit(staffed, start + 1 - lead, ask.teach_min + lead)
    warm = (t.core[1] for t in on_place(world, apparatus.id, 1) if t.core[1] > start and not t.outage)
    bounds = [*([fit + lead] if fit is not None else []), *warm]
    return min(bounds, default=None)


def on_place(world: World, apparatus_id: int, place: int) -> Iterable[Taken]:
    """What is taken at one place, in the order of time; an outage takes every place."""
    return (t for t in world.taken.get(apparatus_id, ()) if t.place in (0, place))


def overlap(one: Span, other: Span) -> bool:
    """Whether two half-open spans share a minute."""
    return one[0] < other[1] and other[0] < one[1]


def taken_by(world: World, apparatus: Apparatus, taken: Taken, not_before: int) -> Blocked:
    """The sentence for equipment that somebody else has."""
    studio = world.studios[apparatus.studio_id]
    why = f"out of use ({taken.held_by})" if taken.outage else f"held by {taken.held_by}"
    return Blocked(
        name=apparatus.name,
        says=f"is {why} until {at(taken.span[1], studio)}",
        until=taken.span[1],
        not_before=not_before,
    )


def draws(apparatus: Apparatus, span: Span, held_by: str) -> tuple[tuple[int, Use], ...]:
    """What the equipment draws while its controller may switch it on: its full connected draw."""
    return tuple(
        (supply_id, Use(span=span, amount=amount, held_by=held_by)) for supply_id, amount in apparatus.draws
    )


def lasting(*phases: PhaseSpan) -> tuple[PhaseSpan, ...]:
    """The phases that last at least a minute."""
    return tuple(phase for phase in phases if phase.span[0] < phase.span[1])
