"""Glory holes and pipe warmers: lit for a class, warm after it, and what the next one needs then."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Iterable
from functools import lru_cache

from scheduling.engine.claims import Blocked, draws, overlap, taken_by
from scheduling.engine.curves import laid, level
from scheduling.engine.records import Apparatus, Ask, Duty, Held, Kind, PhaseSpan, Taken, Use
from scheduling.engine.spans import Span, covers, first_ending_after, first_fit
from scheduling.engine.wording import at, degrees
from scheduling.engine.world import World
from studios.said import said
from studios.thermal import (
    Body,
    Curve,
    Phase,
    ThermalError,
    cool_down_curve,
    heat_up_curve,
    reheat_limits,
    reheat_min,
)

HOT_STATIONS = frozenset({Kind.GLORY_HOLE, Kind.PIPE_WARMER})
COLD = 1 << 20  # a gap, in minutes, after which nothing is left of an earlier session's heat
ANY_TIME = 1 << 40
NO_RECORD = said(
    "has no thermal record or no working temperature", many="have no thermal record or no working temperature"
)


def places_of(apparatus: Apparatus) -> range:
    """The numbers of its places; a hot station is used by one session at a time, whatever its record says."""
    return range(1, 2 if apparatus.kind in HOT_STATIONS else apparatus.places + 1)


def has_record(apparatus: Apparatus) -> bool:
    """Whether it is known how the station heats and cools."""
    return bool(apparatus.bodies) and apparatus.working_c is not None


def _record(apparatus: Apparatus, minute: int) -> tuple[Body, float]:
    body = apparatus.body_at(minute)
    if body is None or apparatus.working_c is None:
        raise ValueError(f"{apparatus.name} has no thermal record")
    return body, apparatus.working_c


def hot_candidate(world: World, ask: Ask, start: int, apparatus: Apparatus) -> Held | Blocked:
    """A hot station is free while it works, with time and somebody to heat it before."""
    if not has_record(apparatus):
        return Blocked(name=apparatus.name, says=NO_RECORD)
    core = (start, start + ask.teach_min)
    claims = world.claims(apparatus.id)
    for taken in claims.meeting(*core, 1):
        if overlap(taken.core, core):
            return taken_by(world, apparatus, taken, taken.core[1])
    # An outage that ends with a use leaves it cold.
    earlier = claims.before(start, 1)
    gap = gap_before(start, earlier)
    try:
        held = hot_station(apparatus, core=core, gap_min=gap, title=ask.title)
    except ThermalError as error:
        return Blocked(name=apparatus.name, says=said("cannot be heated so: {why}", why=error.said))
    if earlier is not None and held.exclusive[0] < earlier.core[1]:
        return taken_by(world, apparatus, earlier, earlier.core[1] + start - held.exclusive[0])
    return _unlit(world, ask, apparatus, held) or held


def gap_before(start: int, earlier: Taken | None) -> int:
    """The minutes since a station last worked; after an outage, or with nothing before it, it is cold."""
    return COLD if earlier is None or earlier.outage else min(start - earlier.core[1], COLD)


def hot_station(
    apparatus: Apparatus,
    *,
    core: Span,
    gap_min: int,
    title: str,
    room_min: int | None = None,
    until: int | None = None,
    keep_hot: bool = False,
) -> Held:
    """A hot station heats up from the temperature it has then, works, and cools to the touch.

    `gap_min` is the time since it last worked, `until` the lighting that cuts its cooling short. Where the
    heat-up finds no more than `room_min`, it has to be kept hot for that long instead: a duty for somebody.
    So it is for the whole gap where that is chosen: `keep_hot`. The cooling is stored, but refuses nobody.
    """
    body, working_c = _record(apparatus, core[0])
    lead = gap_min if keep_hot else lead_min(apparatus, gap_min, core[0])
    kept = keep_hot or (room_min is not None and room_min < lead)
    if room_min is not None and room_min < lead:
        lead = max(room_min, 0)
    cooling = _to_touch(apparatus, body, working_c)
    touched = core[1] + cooling.whole_min

    def phases() -> tuple[PhaseSpan, ...]:
        lit = core[0] - lead
        heating = (
            (level(Phase.HOLDING, (lit, core[0]), working_c),)
            if kept
            else _heating(body, working_c, gap_min, lead, core[0])
        )
        return (*heating, level(Phase.WORKING, core, working_c), *laid(cooling, core[1], until=until))

    return Held(
        apparatus_id=apparatus.id,
        place=1,
        span=(core[0] - lead, touched if until is None else max(core[1], min(touched, until))),
        exclusive=(core[0] - lead, core[1]),
        laid=phases,
        draws=draws(apparatus, (core[0] - lead, core[1]), title),
    )


def _to_touch(apparatus: Apparatus, body: Body, from_c: float) -> Curve:
    """Cooling until it may be touched; in a hot room not below the temperature at which a door is opened."""
    return cool_down_curve(body, from_c=from_c, to_c=max(apparatus.touch_c, body.opening_c))


def lead_min(apparatus: Apparatus, gap_min: int, works_at: int) -> int:
    """Minutes of heat-up before it works: fewer when an earlier session left it warm, never over the gap."""
    if gap_min >= COLD:
        return cold_lead(apparatus, works_at)
    return bisect_left(_checked_limits(*_record(apparatus, works_at)), gap_min)


@lru_cache(maxsize=1024)
def _checked_limits(body: Body, working_c: float) -> tuple[int, ...]:
    """The table behind `reheat_min`, once that has found no fault with the record."""
    reheat_min(body, gap_min=0, working_c=working_c)
    return reheat_limits(body, working_c)


def cold_lead(apparatus: Apparatus, works_at: int) -> int:
    """Minutes to heat a cold station to its working temperature, rounded up."""
    return len(heat_limits(apparatus, works_at))


def heat_limits(apparatus: Apparatus, works_at: int) -> tuple[int, ...]:
    """For each number of minutes of heating the longest gap that it bridges, up to a cold start."""
    return reheat_limits(*_record(apparatus, works_at))


def _heating(body: Body, working_c: float, gap_min: int, lead: int, ready: int) -> tuple[PhaseSpan, ...]:
    """Heating from the temperature it has when lit; a curve shorter than the lead ends early and holds."""
    from_c = body.ambient_c if gap_min >= COLD else body.cooled_c(working_c, gap_min - lead)
    curve = laid(heat_up_curve(body, from_c=from_c, to_c=working_c), ready - lead, until=ready)
    hot_at = curve[-1].span[1] if curve else ready - lead
    return (*curve, level(Phase.HOLDING, (hot_at, ready), working_c))


def lightable(world: World, apparatus: Apparatus) -> tuple[Span, ...]:
    """The hours, from now on, in which it may be heated.

    Gas is attended from lighting to off; electric heat-up may run unattended where the studio says so.
    """
    studio = world.studios[apparatus.studio_id]
    if not apparatus.gas_fired and studio.electric_unattended:
        return ((world.now, ANY_TIME),)
    staffed, now = studio.staffed[Duty.LIGHT], world.now
    ahead = staffed[first_ending_after(staffed, now) :]
    # Only the hours that have begun already are cut.
    return ahead if not ahead or ahead[0][0] >= now else ((now, ahead[0][1]), *ahead[1:])


def _unlit(world: World, ask: Ask, apparatus: Apparatus, held: Held) -> Blocked | None:
    """Whether it can be lit in time, and attended where it must be."""
    lit, off = held.exclusive
    if covers(lightable(world, apparatus), lit, off):
        return None
    start = off - ask.teach_min
    fit = _lit_next(world, ask, apparatus, start, start - lit)
    return Blocked(
        name=apparatus.name,
        says=unlit(world, apparatus, lit, _record(apparatus, lit)[1]),
        until=fit,
        not_before=fit,
    )


def unlit(world: World, apparatus: Apparatus, lit: int, hot_c: float) -> str:
    """The sentence for equipment that cannot be lit when it would have to be."""
    studio = world.studios[apparatus.studio_id]
    past = said("that is past")
    nobody = said("and attended to the end; nobody who may light it is there for all of that")
    return said(
        "must be lit at {when} to be at {degrees} in time, {why}",
        when=at(lit, studio),
        degrees=degrees(hot_c, studio),
        why=past if lit < world.now else nobody,
    )


def _lit_next(world: World, ask: Ask, apparatus: Apparatus, start: int, lead: int) -> int | None:
    """The first start that somebody could light it for, or that finds it hot after the use that follows.

    What it needs to heat never shrinks as the gap grows, so the present lead is a bound until the next use.
    """
    fit = first_fit(lightable(world, apparatus), start + 1 - lead, ask.teach_min + lead)
    warm = world.claims(apparatus.id).warm_after(start, 1)
    bounds = [bound for bound in (None if fit is None else fit + lead, warm) if bound is not None]
    return min(bounds, default=None)


def relit(
    world: World, held: Iterable[Held], core: Span, kept: Collection[int] = ()
) -> tuple[frozenset[int], list[tuple[int, Use]]]:
    """What follows at these hot stations is lit later: the occupancies whose draws change, and to what.

    It is never lit earlier than it stands, even where another record has been accepted since it was booked.
    Some occupancies are `kept` hot meanwhile.
    """
    changed: set[int] = set()
    asked: list[tuple[int, Use]] = []
    for part in held:
        apparatus = world.apparatus[part.apparatus_id]
        if apparatus.kind not in HOT_STATIONS:
            continue
        after = world.claims(apparatus.id).after(core[1], 1)
        if after is not None and after.occupancy_id is not None:
            changed.add(after.occupancy_id)
            stays = after.occupancy_id in kept
            lit = core[1] if stays else _lit_again(apparatus, after, core[1])
            asked.extend(draws(apparatus, (lit, after.core[1]), after.held_by))
    return frozenset(changed), asked


def _lit_again(apparatus: Apparatus, after: Taken, warm_until: int) -> int:
    """When a use is lit that finds its station warm from then on; no burner burns for two uses at once."""
    try:
        lead = lead_min(apparatus, min(after.core[0] - warm_until, COLD), after.core[0])
    except ThermalError:
        return max(after.span[0], warm_until)
    return max(after.core[0] - lead, after.span[0])
