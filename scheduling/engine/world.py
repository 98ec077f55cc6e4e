"""The world as the engine sees it: what exists, and what is taken. Times are minutes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import cast

from scheduling.engine.booked import Changes, Claims
from scheduling.engine.records import (
    Apparatus,
    Ask,
    Engagement,
    Kind,
    PotRecord,
    Store,
    StudioRecord,
    SupplyRecord,
    Taken,
    Use,
)
from scheduling.engine.spans import Span


@dataclass(frozen=True, kw_only=True)
class World:
    """What exists and what is taken, within the horizon that was loaded.

    `stores` are the contents of supplies, by supply; `pots` those of furnaces, by furnace. What is taken and
    drawn changes in place (`enter`, `strike`), all else never.
    """

    now: int
    horizon: Span
    studios: Mapping[int, StudioRecord]
    apparatus: Mapping[int, Apparatus]
    taken: Mapping[int, Sequence[Taken]]
    supplies: Mapping[int, SupplyRecord]
    people: Mapping[int, tuple[Engagement, ...]] = field(default_factory=dict)
    names: Mapping[int, str] = field(default_factory=dict)
    travel: Mapping[tuple[int, int], int] = field(default_factory=dict)
    stores: Mapping[int, Store] = field(default_factory=dict)
    pots: Mapping[int, PotRecord] = field(default_factory=dict)
    _changes: dict[int, Changes] = field(init=False, default_factory=dict, compare=False, repr=False)
    _parts: dict[int, World] = field(init=False, default_factory=dict, compare=False, repr=False)

    def __post_init__(self) -> None:
        taken = {**dict.fromkeys(self.apparatus, ()), **self.taken}
        kept = {key: each if isinstance(each, Claims) else Claims(each) for key, each in taken.items()}
        object.__setattr__(self, "taken", kept)

    @classmethod
    def together(
        cls,
        parts: Iterable[World],
        *,
        now: int,
        people: Mapping[int, tuple[Engagement, ...]],
        names: Mapping[int, str],
    ) -> World:
        """Several studios as one world; what is taken there, and what is known of it, is shared with them."""
        every = list(parts)
        whole = cls(
            now=now,
            horizon=(min(part.horizon[0] for part in every), max(part.horizon[1] for part in every)),
            studios={key: each for part in every for key, each in part.studios.items()},
            apparatus={key: each for part in every for key, each in part.apparatus.items()},
            taken={key: each for part in every for key, each in part.taken.items()},
            supplies={key: each for part in every for key, each in part.supplies.items()},
            people=people,
            names=names,
            travel={key: minutes for part in every for key, minutes in part.travel.items()},
            stores={key: each for part in every for key, each in part.stores.items()},
            pots={key: each for part in every for key, each in part.pots.items()},
        )
        whole._parts.update({key: part for part in every for key in part.studios})
        return whole

    def part_of(self, studio_id: int, supply_ids: Collection[int]) -> World:
        """What there is of one studio, with those supplies; what is taken there is shared."""
        own = [key for key, each in self.apparatus.items() if each.studio_id == studio_id]
        return replace(
            self,
            studios={studio_id: self.studios[studio_id]},
            apparatus={key: self.apparatus[key] for key in own},
            taken={key: self.taken[key] for key in own},
            supplies={key: self.supplies[key] for key in supply_ids},
            stores={key: each for key, each in self.stores.items() if key in supply_ids},
            pots={key: each for key, each in self.pots.items() if key in own},
        )

    def drawn_by(self, occupancy_id: int) -> Iterator[tuple[int, Use]]:
        """What an occupancy draws, supply by supply."""
        for supply_id, supply in self.supplies.items():
            yield from ((supply_id, use) for use in supply.draws.by_occupancy.get(occupancy_id, ()))

    def claims(self, apparatus_id: int) -> Claims:
        """What is taken on one piece of equipment."""
        return cast("Claims", self.taken[apparatus_id])

    def enter(self, claim: Taken, draws: Iterable[tuple[int, Use]] = (), glass: Use | None = None) -> None:
        """One more claim, with what it draws from supplies and from the pot."""
        self.claims(claim.apparatus_id).add(claim)
        for supply_id, use in draws:
            self._drawn(supply_id, use, 1)
        if glass is not None:
            store = self.pots[claim.apparatus_id].store
            store.draws.add(glass)
            store.reckon(glass, 1)
        studio = self.studios[self.apparatus[claim.apparatus_id].studio_id]
        if studio.id in self._changes:
            self._changes[studio.id].add(_edges_of(claim, studio))
            self._changes[studio.id].add(edge for _, use in draws for edge in use.span)

    def strike(self, claim: Taken) -> None:
        """One claim less, with all that it draws."""
        self.claims(claim.apparatus_id).remove(claim)
        if claim.occupancy_id is None:
            return
        for supply_id, use in list(self.drawn_by(claim.occupancy_id)):
            self._drawn(supply_id, use, -1)
        if (pot := self.pots.get(claim.apparatus_id)) is not None:
            for use in pot.store.draws.by_occupancy.get(claim.occupancy_id, ()):
                pot.store.draws.remove(use)
                pot.store.reckon(use, -1)

    def _drawn(self, supply_id: int, use: Use, sign: int) -> None:
        store, drawn = self.stores.get(supply_id), [self.supplies[supply_id].draws]
        if store is not None and store.draws is not drawn[0]:
            drawn.append(store.draws)
        for draws in drawn:
            draws.add(use) if sign > 0 else draws.remove(use)
        if store is not None:
            store.reckon(use, sign)

    def changes(self, studio_id: int) -> Changes:
        """The minutes at which something that is staffed, taken, drawn or refilled begins or ends there."""
        if studio_id in self._parts:
            return self._parts[studio_id].changes(studio_id)
        if studio_id not in self._changes:
            self._changes[studio_id] = Changes(self._edges(self.studios[studio_id]))
        return self._changes[studio_id]

    def _edges(self, studio: StudioRecord) -> Iterator[int]:
        stores = [*self.stores.values(), *(pot.store for pot in self.pots.values())]
        every = [draws for s in self.supplies.values() for draws in s.draws.steps]
        every += [step for store in stores for step in store.draws.steps]
        spans = [span for hours in studio.staffed.values() for span in hours]
        spans += [*studio.over_by, *(span for span, _ in every)]
        spans += [period.span for store in stores for period in store.periods]
        yield from (edge for span in spans for edge in span)
        for apparatus in self.apparatus.values():
            if apparatus.studio_id == studio.id:
                yield from (edge for claim in self.claims(apparatus.id) for edge in _edges_of(claim, studio))

    @cached_property
    def _by_kind(self) -> Mapping[tuple[int, Kind], tuple[Apparatus, ...]]:
        found: dict[tuple[int, Kind], list[Apparatus]] = {}
        for apparatus in sorted(self.apparatus.values(), key=lambda a: (a.number, a.id)):
            if apparatus.active:
                found.setdefault((apparatus.studio_id, apparatus.kind), []).append(apparatus)
        return {key: tuple(every) for key, every in found.items()}

    @cached_property
    def _by_station(self) -> Mapping[int, tuple[Apparatus, ...]]:
        found: dict[int, list[Apparatus]] = {}
        for apparatus in sorted(self.apparatus.values(), key=lambda a: (a.kind, a.number, a.id)):
            if apparatus.active and apparatus.station_id is not None:
                found.setdefault(apparatus.station_id, []).append(apparatus)
        return {key: tuple(every) for key, every in found.items()}

    def of_kind(self, studio_id: int, kind: Kind) -> tuple[Apparatus, ...]:
        """The equipment of one kind at a studio, in its stable order."""
        return self._by_kind.get((studio_id, kind), ())

    def allowed(self, ask: Ask, kind: Kind) -> tuple[Apparatus, ...]:
        """The equipment of one kind that an ask may have: where it names some, those alone."""
        every = self.of_kind(ask.studio_id, kind)
        return every if ask.only is None else tuple(each for each in every if each.id in ask.only)

    def companions(self, apparatus: Apparatus) -> tuple[Apparatus, ...]:
        """The benches and pipe warmers held together with a glory hole."""
        return self._by_station.get(apparatus.id, ())


def _edges_of(claim: Taken, studio: StudioRecord) -> Iterator[int]:
    """The minutes at which a claim, or who may join its firing, begins or ends."""
    yield from (*claim.span, *claim.core)
    if (firing := claim.firing) is not None:
        gap = studio.hold_gap_min
        yield from (firing.ready - gap, firing.ready, firing.last_in, firing.last_in + gap)
        yield from (edge for lot in firing.lots for edge in (lot.in_from, lot.in_until))
