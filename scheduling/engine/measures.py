"""How starts compare: the heat, the night, the way and the energy that each would take."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import lru_cache

from scheduling.engine.heat import HOT_STATIONS
from scheduling.engine.journeys import way_min
from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.records import Ask, Duty, FiringHeld, Held, Placement
from scheduling.engine.spans import Span, overlapping
from scheduling.engine.world import World
from studios.thermal import Body, Phase, energy_kwh, heat_up_curve, holding_kwh


class Measure(StrEnum):
    """What the best start is the least of. The values are shown and sent: they are never renamed lightly."""

    EARLIEST = "earliest"
    NEAREST = "nearest to the wish"
    NIGHT = "least held while nobody is there"
    WARM = "least heating up"
    ENERGY = "least energy"
    TRAVEL = "least travel"


def measure(world: World, ask: Ask, placement: Placement, by: Measure) -> float:
    """Minutes or kWh that a start takes, by one of the measures; the less, the better."""
    return MEASURES[by](world, ask, placement)


def unattended_min(world: World, ask: Ask, placement: Placement) -> float:
    """Minutes that equipment is held while nobody of the studio is there; of a joined firing what it adds."""
    staffed = world.studios[ask.studio_id].staffed[Duty.PRESENT]
    spans = [held.exclusive for held in placement.held]
    spans += [span for firing in placement.firings for span in _added(world, firing)]
    return float(sum(_outside(staffed, span) for span in spans))


def _outside(staffed: tuple[Span, ...], span: Span) -> int:
    inside = sum(min(end, span[1]) - max(begin, span[0]) for begin, end in overlapping(staffed, *span))
    return span[1] - span[0] - inside


def _added(world: World, firing: FiringHeld) -> list[Span]:
    """What a firing holds beyond the one that it joins."""
    begin, end = firing.held.exclusive
    for taken in world.claims(firing.held.apparatus_id).meeting(begin, end, 1):
        if taken.firing is not None and taken.firing.id == firing.joins:
            before, after = (begin, taken.span[0]), (taken.span[1], end)
            return [span for span in (before, after) if span[0] < span[1]]
    return [(begin, end)]


def heating_min(_world: World, _ask: Ask, placement: Placement) -> float:
    """Minutes of heating up before anybody can work: few where an earlier use has left it warm."""
    phases = [phase for held in placement.held for phase in held.phases]
    phases += [p for firing in placement.firings if firing.joins is None for p in firing.held.phases]
    heated = (p for p in phases if p.kind is Phase.HEAT_UP and p.from_c is not None)
    return float(sum(p.span[1] - p.span[0] for p in heated))


def placement_kwh(world: World, ask: Ask, placement: Placement) -> float:
    """Energy of the hot stations until the class is over, and of its firings beyond those they join."""
    stations = sum(_station_kwh(world, ask, placement, held) for held in placement.held)
    return stations + sum(_firing_kwh(world, firing) for firing in placement.firings)


def _station_kwh(world: World, ask: Ask, placement: Placement, held: Held) -> float:
    apparatus = world.apparatus[held.apparatus_id]
    body = apparatus.body_at(placement.start)
    if apparatus.kind not in HOT_STATIONS or body is None or apparatus.working_c is None:
        return 0.0
    from_c = next((p.from_c for p in held.phases if p.kind is Phase.HEAT_UP), None)
    if from_c is not None:
        heating = _heating_kwh(body, round(from_c, 3), apparatus.working_c) + apparatus.lighting_kwh
        return heating + holding_kwh(body, apparatus.working_c, ask.teach_min)
    # What is kept hot is held since it last worked.
    return holding_kwh(body, apparatus.working_c, placement.end - held.exclusive[0])


@lru_cache(maxsize=4096)
def _heating_kwh(body: Body, from_c: float, to_c: float) -> float:
    return energy_kwh(heat_up_curve(body, from_c=from_c, to_c=to_c), body)


def _firing_kwh(world: World, firing: FiringHeld) -> float:
    apparatus = world.apparatus[firing.held.apparatus_id]
    studio = world.studios[apparatus.studio_id]
    for taken in world.claims(apparatus.id).meeting(*firing.held.exclusive, 1):
        if taken.firing is not None and taken.firing.id == firing.joins:
            alone = run(studio, apparatus, taken.firing.recipe, taken.firing.lots)
            return firing.energy_kwh - (0.0 if isinstance(alone, Unrunnable) else alone.energy_kwh)
    return firing.energy_kwh


def travel_min(world: World, ask: Ask, placement: Placement) -> float:
    """Minutes on the way to the class and from it, on its day."""
    return float(way_min(world, ask, placement.start))


def start_minute(_world: World, _ask: Ask, placement: Placement) -> float:
    """The start itself: the earlier, the better."""
    return float(placement.start)


MEASURES: dict[Measure, Callable[[World, Ask, Placement], float]] = {
    Measure.EARLIEST: start_minute,
    Measure.NEAREST: start_minute,
    Measure.NIGHT: unattended_min,
    Measure.WARM: heating_min,
    Measure.ENERGY: placement_kwh,
    Measure.TRAVEL: travel_min,
}
