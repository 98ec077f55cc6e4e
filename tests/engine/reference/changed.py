"""The same world moved in time, renumbered, or with something more in it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scheduling.engine.records import (
    Apparatus,
    Ask,
    Engagement,
    FiringRecord,
    Store,
    StudioRecord,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.world import World
from tests.engine.reference.minutes import Stretch
from tests.engine.reference.parts import drawn


def later(stretch: Stretch, by: int) -> Stretch:
    """A stretch moved by so many minutes."""
    return stretch[0] + by, stretch[1] + by


def shifted(world: World, by: int) -> World:
    """Every minute in the world moved: its spans are absolute, no clock on the wall is asked."""
    return replace(
        world,
        now=world.now + by,
        horizon=later(world.horizon, by),
        studios={key: _studio(studio, by) for key, studio in world.studios.items()},
        apparatus={key: _apparatus(each, by) for key, each in world.apparatus.items()},
        taken={key: tuple(_taken(t, by) for t in taken) for key, taken in world.taken.items()},
        supplies={key: _supply(supply, by) for key, supply in world.supplies.items()},
        people={key: tuple(_engagement(e, by) for e in every) for key, every in world.people.items()},
        stores={key: _store(store, by) for key, store in world.stores.items()},
        pots={key: replace(pot, store=_store(pot.store, by)) for key, pot in world.pots.items()},
    )


def asked_later(ask: Ask, by: int) -> Ask:
    """What is asked, with its latest ends moved too."""
    return replace(ask, over_by=tuple(later(span, by) for span in ask.over_by))


def _studio(studio: StudioRecord, by: int) -> StudioRecord:
    staffed = {duty: tuple(later(span, by) for span in spans) for duty, spans in studio.staffed.items()}
    return replace(studio, staffed=staffed, over_by=tuple(later(span, by) for span in studio.over_by))


def _apparatus(apparatus: Apparatus, by: int) -> Apparatus:
    return replace(apparatus, bodies=tuple((since + by, body) for since, body in apparatus.bodies))


def _taken(taken: Taken, by: int) -> Taken:
    firing = _firing(taken.firing, by) if taken.firing is not None else None
    return replace(taken, span=later(taken.span, by), core=later(taken.core, by), firing=firing)


def _firing(firing: FiringRecord, by: int) -> FiringRecord:
    lots = tuple(replace(lot, in_from=lot.in_from + by, in_until=lot.in_until + by) for lot in firing.lots)
    return replace(firing, lots=lots, ready=firing.ready + by, last_in=firing.last_in + by)


def _supply(supply: SupplyRecord, by: int) -> SupplyRecord:
    uses = tuple(replace(use, span=later(use.span, by)) for use in supply.uses)
    return replace(supply, uses=uses)


def _store(store: Store, by: int) -> Store:
    uses = tuple(replace(use, span=later(use.span, by)) for use in store.uses)
    return replace(store, uses=uses, refills=tuple((minute + by, left) for minute, left in store.refills))


def _engagement(engagement: Engagement, by: int) -> Engagement:
    return replace(engagement, span=later(engagement.span, by))


def renumbered(world: World, ask: Ask, new: Mapping[int, int]) -> tuple[World, Ask]:
    """Each piece of equipment under another number, which is also its place in the order."""

    def moved(apparatus: Apparatus) -> Apparatus:
        station = new[apparatus.station_id] if apparatus.station_id is not None else None
        return replace(apparatus, id=new[apparatus.id], number=new[apparatus.id], station_id=station)

    taken = {
        new[key]: tuple(replace(t, apparatus_id=new[key]) for t in claims)
        for key, claims in world.taken.items()
    }
    apparatus = {new[key]: moved(each) for key, each in world.apparatus.items()}
    only = None if ask.only is None else frozenset(new[key] for key in ask.only)
    pots = {new[key]: pot for key, pot in world.pots.items()}
    return replace(world, apparatus=apparatus, taken=taken, pots=pots), replace(ask, only=only)


def reordered(world: World, order: Mapping[int, int]) -> World:
    """The same equipment under the same numbers, come upon in another order."""
    apparatus = dict(sorted(world.apparatus.items(), key=lambda item: order[item[0]]))
    return replace(world, apparatus=apparatus)


def with_claim(world: World, claim: Taken) -> World:
    """One more claim, and what it draws for as long as it lasts."""
    mine = (*world.taken.get(claim.apparatus_id, ()), claim)
    taken = {**world.taken, claim.apparatus_id: tuple(sorted(mine, key=lambda t: (t.span, t.place)))}
    supplies = dict(world.supplies)
    for each in () if claim.outage else drawn(world.apparatus[claim.apparatus_id], *claim.span):
        use = Use(span=claim.span, amount=each.amount, held_by="other", occupancy_id=claim.occupancy_id)
        supplies[each.supply_id] = replace(
            supplies[each.supply_id], uses=(*supplies[each.supply_id].uses, use)
        )
    return drawn_alike(replace(world, taken=taken, supplies=supplies))


def drawn_alike(world: World) -> World:
    """Out of its store goes what a supply gives."""
    stores = {key: replace(each, uses=world.supplies[key].uses) for key, each in world.stores.items()}
    return replace(world, stores=stores)


def closed(world: World, spans: Mapping[int, tuple[Stretch, ...]]) -> World:
    """The studios with other staffed hours: the same for every duty."""
    studios = {
        key: replace(studio, staffed=dict.fromkeys(studio.staffed, spans[key]))
        for key, studio in world.studios.items()
    }
    return replace(world, studios=studios)
