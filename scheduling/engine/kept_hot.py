"""Between two uses a glory hole is kept hot where that takes less than lighting and heating it again.

A start works if the heat-up does: so a hold, which is longer, refuses no start and only betters one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from scheduling.engine.heat import COLD, HOT_STATIONS, gap_before, hot_station, lightable
from scheduling.engine.judged import Plan, judged
from scheduling.engine.records import Apparatus, Ask, Held, Kind
from scheduling.engine.spans import Span, covers
from scheduling.engine.stations import Bundle, bench
from scheduling.engine.wording import at
from scheduling.engine.world import World
from studios.said import said
from studios.thermal import Body, ThermalError, energy_kwh, heat_up_curve, holding_kwh, reheat_min


@dataclass(frozen=True, kw_only=True)
class Hold:
    """A hot station that might be kept hot: before a class, or after it for the occupancy that follows."""

    apparatus_id: int
    follows: int | None = None


def bettered(world: World, ask: Ask, plan: Plan) -> Plan:
    """The same plan with stations kept hot where that takes less: all of them, else one after the other.

    Supplies and stores must carry it, and nothing else of the plan changes for it.
    """
    wanted = _holds(world, plan)
    if not wanted:
        return plan
    best, chosen = plan, frozenset[Hold]()
    for more in (wanted, *([hold] for hold in wanted)):
        if chosen.issuperset(more):
            continue
        tried = _with(world, ask, plan, chosen.union(more))
        if not tried.lacking and _else_alike(tried, plan):
            best, chosen = tried, chosen.union(more)
    return best


def _else_alike(one: Plan, other: Plan) -> bool:
    starts = ([firing.last_in for firing in plan.firings] for plan in (one, other))
    return len({tuple(each) for each in starts}) == 1 and one.stock.change_overs == other.stock.change_overs


def worth_keeping(apparatus: Apparatus, gap_min: int, works_at: int) -> bool:
    """Whether holding it hot over a gap takes less than cooling, heating and lighting it again."""
    body = apparatus.body_at(works_at)
    if not apparatus.lighting_kwh or not 0 < gap_min < COLD or body is None or apparatus.working_c is None:
        return False
    try:
        return _hold_less_reheat_kwh(body, apparatus.working_c, gap_min) < apparatus.lighting_kwh
    except ThermalError:
        return False


@lru_cache(maxsize=4096)
def _hold_less_reheat_kwh(body: Body, working_c: float, gap_min: int) -> float:
    lead = reheat_min(body, gap_min=gap_min, working_c=working_c)
    heating = heat_up_curve(body, from_c=body.cooled_c(working_c, gap_min - lead), to_c=working_c)
    return holding_kwh(body, working_c, gap_min) - energy_kwh(heating, body)


def _holds(world: World, plan: Plan) -> list[Hold]:
    """What might be kept hot, by somebody who is there."""
    found: list[Hold] = []
    for held in plan.held:
        apparatus = world.apparatus[held.apparatus_id]
        if apparatus.lighting_kwh and apparatus.kind in HOT_STATIONS:
            found.extend(_before(world, apparatus, plan.core))
            found.extend(_after(world, apparatus, plan.core))
    return found


def _before(world: World, apparatus: Apparatus, core: Span) -> Iterator[Hold]:
    before = world.claims(apparatus.id).before(core[0], 1)
    if before is None or before.core[1] < world.now:
        return
    attended = covers(lightable(world, apparatus), before.core[1], core[1])
    if attended and worth_keeping(apparatus, gap_before(core[0], before), core[0]):
        yield Hold(apparatus_id=apparatus.id)


def _after(world: World, apparatus: Apparatus, core: Span) -> Iterator[Hold]:
    """What follows is kept hot only in hours that it holds already."""
    after = world.claims(apparatus.id).after(core[1], 1)
    if after is None or after.occupancy_id is None or after.span[0] > core[1]:
        return
    if worth_keeping(apparatus, after.core[0] - core[1], after.core[0]):
        yield Hold(apparatus_id=apparatus.id, follows=after.occupancy_id)


def _with(world: World, ask: Ask, plan: Plan, chosen: frozenset[Hold]) -> Plan:
    """The plan with some stations kept hot, judged anew."""
    kept = frozenset(hold.apparatus_id for hold in chosen if hold.follows is None)
    bundles = tuple(_kept(world, ask, bundle, plan.core, kept) for bundle in plan.bundles)
    after = frozenset(hold.follows for hold in chosen if hold.follows is not None)
    return judged(world, ask, plan.core[0], bundles, plan.asked, kept=kept, kept_after=after)


def _kept(world: World, ask: Ask, bundle: Bundle, core: Span, kept: frozenset[int]) -> Bundle:
    """A glory hole that is kept hot has its bench from then on."""
    if kept.isdisjoint(part.apparatus_id for part in bundle.held):
        return bundle
    parts = [_hot(world, ask, part, core) if part.apparatus_id in kept else part for part in bundle.held]
    lead = core[0] - parts[0].exclusive[0]
    held = tuple(_bench(world, ask, part, core, lead) for part in parts)
    return replace(bundle, held=held, lead_min=lead, warm=bundle.warm and parts[0] is bundle.held[0])


def _hot(world: World, ask: Ask, part: Held, core: Span) -> Held:
    apparatus = world.apparatus[part.apparatus_id]
    gap = gap_before(core[0], world.claims(apparatus.id).before(core[0], 1))
    return hot_station(apparatus, core=core, gap_min=gap, title=ask.title, keep_hot=True)


def _bench(world: World, ask: Ask, part: Held, core: Span, lead: int) -> Held:
    apparatus = world.apparatus[part.apparatus_id]
    if apparatus.kind is not Kind.BENCH:
        return part
    return bench(apparatus, core=core, exclusive=part.exclusive, lead_min=lead, title=ask.title)


def kept_notes(world: World, plan: Plan) -> Iterator[str]:
    """Who books what is kept hot before it is told since when."""
    for held in plan.held if plan.kept else ():
        if held.apparatus_id in plan.kept:
            apparatus = world.apparatus[held.apparatus_id]
            studio = world.studios[apparatus.studio_id]
            yield said(
                "{equipment} is kept hot from {when} on: that takes less than lighting and heating it again.",
                equipment=apparatus.name,
                when=at(held.exclusive[0], studio),
            )
