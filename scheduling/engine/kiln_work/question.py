"""A scheme as the planner is asked about it: loads with their ways, handwork, what waits for what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from scheduling.engine.clock import whole_days
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.bare import cold_work
from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.costs import firing_cost
from scheduling.engine.kiln_work.handwork import after_handwork, ahead, cold_parts, needed_before
from scheduling.engine.kiln_work.kilns import KilnRun, Usable, done_for, free_from
from scheduling.engine.kiln_work.laying import LoadLaid
from scheduling.engine.kiln_work.moulds import held_by_others
from scheduling.engine.kiln_work.routes import Before, Handwork
from scheduling.engine.kiln_work.scheme import Scheme
from scheduling.engine.kiln_work.waits import by_wait
from scheduling.engine.planner.loads import (
    Attended,
    Gap,
    KilnWay,
    LoadFiring,
    MouldsTaken,
    Question,
    StationTaken,
    SupplyLimit,
    Wish,
)
from scheduling.engine.records import Apparatus, Kind
from scheduling.engine.spans import Span, clip, union
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World

# Pieces that were out of a kiln before the plan began come from no load of it.
OUT = ""


@dataclass(frozen=True, kw_only=True)
class Asking:
    """One scheme of a bench, on its way to the planner."""

    bench: Bench
    scheme: Scheme

    @property
    def world(self) -> World:
        return self.bench.world

    @property
    def asked(self) -> WorkAsked:
        return self.bench.asked

    @property
    def usable(self) -> Usable:
        return self.bench.usable

    @property
    def studio_id(self) -> int:
        return self.bench.studio_id

    @property
    def since(self) -> int:
        """Handwork for the first loads may be done before the pieces are there."""
        return self.world.now

    @cached_property
    def hours(self) -> tuple[Span, ...]:
        """When somebody is there for handwork."""
        return ahead(self.world.studios[self.studio_id], self.since)

    @cached_property
    def cold_stations(self) -> tuple[Apparatus, ...]:
        return self.world.of_kind(self.studio_id, Kind.COLD_STATION)

    @cached_property
    def cold(self) -> dict[tuple[str, int], tuple[int, ...]]:
        """The pieces of each part of cold work, by its load and its number; some are out of no load."""
        each = self.asked.cold_min_each
        worked = [
            (key, load.pieces)
            for key, load in self.scheme.loads.items()
            if self.asked.route.firings[load.step].cold_work
        ]
        return {
            (key, number): part
            for key, pieces in (worked + self._unworked) * (each > 0)
            for number, part in enumerate(cold_parts(pieces, each))
        }

    @property
    def _unworked(self) -> list[tuple[str, tuple[int, ...]]]:
        """The pieces that have been fired and not been worked; those that come out first are first."""
        waiting = (piece for piece in self.bench.pieces if self.asked.pieces[piece].unworked)
        return [(OUT, tuple(sorted(waiting, key=lambda piece: (self.free(piece), piece))))]

    def free(self, piece: int) -> int:
        """From when on a piece may be loaded or worked."""
        return free_from(self.asked, self.asked.pieces[piece], self.world.now)

    def needs(self, load: LoadLaid) -> tuple[Before, ...]:
        """What is done by hand before a load."""
        return needed_before(self.asked.route.firings[load.step], load)

    @cached_property
    def waits_for_moulds(self) -> tuple[tuple[str, str], ...]:
        return tuple(self.scheme.reused())

    @cached_property
    def by_hand(self) -> dict[tuple[str, Handwork], Before]:
        """What the planner has to find an hour for: where moulds come free late, or visits count.

        Else it is enough that loading does not begin before it could have been done.
        """
        late = {after for _, after in self.waits_for_moulds}
        return {
            (key, need.does): need
            for key, load in self.scheme.loads.items()
            for need in self.needs(load)
            if (key in late and need.does is Handwork.PREPARE_MOULDS)
            or (self.asked.aim is Aim.FEWEST_VISITS and not self._has_some_done(need))
        }

    def _has_some_done(self, need: Before) -> bool:
        return any(each.does is need.does and each.studio_id == self.studio_id for each in self.asked.done)

    def question(self) -> Question:
        """All of it."""
        loads, studio_id = self.scheme.loads, self.studio_id
        firings = tuple(LoadFiring(key=key, ways=tuple(self._ways(key))) for key in loads)
        return Question(
            firings=firings,
            attended=(*self._by_hand(), *self._cold()),
            gaps=(*self._drying(), *self._moulds_come_free(), *self._pieces_go_on()),
            supplies=tuple(self._supplies()),
            stations=tuple(self._stations()),
            moulds=tuple(self._shared_moulds.values()),
            arrives=self.since,
            aim=Wish(self.asked.aim.value),
            days=((studio_id, days_of(self.world, studio_id)),),
        )

    def _ways(self, key: str) -> Iterator[KilnWay]:
        """Each kiln that takes it; where the cheapest is asked for, told apart by how long it waits cool."""
        load = self.scheme.loads[key]
        for kiln_id in load.kind.kiln_ids:
            for run in self.usable.of(kiln_id, load.step):
                done = done_for(self.asked, run.kiln)
                begins = after_handwork(run.begins, self.needs(load), self.hours, done)
                begins = clip(begins, (self._come(load), self.world.horizon[1]))
                waits = by_wait(run, begins) if self.asked.aim is Aim.CHEAPEST else [(0, begins)]
                yield from (self._way(run, load, spans, wait) for wait, spans in waits)

    def _come(self, load: LoadLaid) -> int:
        """When those of its pieces are there that come from no other load of the plan."""
        new = (piece for piece in load.pieces if self.asked.pieces[piece].first == load.step)
        return max((self.free(piece) for piece in new), default=self.world.now)

    def _way(self, run: KilnRun, load: LoadLaid, begins: Sequence[Span], wait_min: int) -> KilnWay:
        kiln = run.kiln
        return KilnWay(
            kiln_id=kiln.id,
            studio_id=kiln.studio_id,
            starts=tuple((a + kiln.prepare_min, b + kiln.prepare_min) for a, b in begins),
            prepare_min=kiln.prepare_min,
            tail_min=run.plan.tail_min,
            switching_min=run.plan.switching_min,
            clear_min=kiln.clear_min,
            unload_staffed=run.unload_staffed,
            draws=run.draws,
            moulds=tuple((form, count) for form, count in load.moulds.items() if form in self._shared_moulds),
            cost=firing_cost(
                self.usable.shelves_of(kiln.id),
                energy_kwh=run.plan.energy_kwh,
                shelves=len(load.shelves),
                minutes=run.cools_after + wait_min + kiln.clear_min,
            ),
        )

    @cached_property
    def _shared_moulds(self) -> dict[int, MouldsTaken]:
        """The moulds that other loads have, too; those that nobody else has only wait for one another."""
        stood = (one for load in self.scheme.loads.values() for one in load.stood)
        return {one.mould.id: held_by_others(one.mould) for one in stood if one.mould and one.mould.held}

    def _by_hand(self) -> Iterator[Attended]:
        for key, need in self.by_hand.items():
            starts = tuple((a, b - need.minutes + 1) for a, b in self.hours if b - a >= need.minutes)
            yield Attended(key=key, minutes=need.minutes, starts=starts, studio_id=self.studio_id)

    def _cold(self) -> Iterator[Attended]:
        """Hours at a cold station, with what it takes to be ready for them and to clear up."""
        before, after = self.beside_cold_work
        stations = tuple(station.id for station in self.cold_stations)
        for key, part in self.cold.items():
            minutes = len(part) * self.asked.cold_min_each
            since = max(self.free(piece) for piece in part)
            starts = tuple((a - before, b - before) for a, b in self._cold_starts(minutes, since))
            yield Attended(
                key=key,
                minutes=before + minutes + after,
                starts=starts,
                stations=stations,
                studio_id=self.studio_id,
            )

    @property
    def beside_cold_work(self) -> tuple[int, int]:
        return (
            max((each.prepare_min for each in self.cold_stations), default=0),
            max((each.clear_min for each in self.cold_stations), default=0),
        )

    def _cold_starts(self, minutes: int, since: int) -> tuple[Span, ...]:
        within = since, self.world.horizon[1]
        asks = (
            cold_work(
                title=self.asked.title,
                studio_id=self.studio_id,
                station_id=station.id,
                minutes=minutes,
            )
            for station in self.cold_stations
        )
        return union(span for ask in asks for span in start_space(self.world, ask, *within))

    def _drying(self) -> Iterator[Gap]:
        for (key, does), need in self.by_hand.items():
            yield Gap(before=(key, does), after=key, least_min=need.dry_min, greatest_min=need.within_min)

    def _moulds_come_free(self) -> Iterator[Gap]:
        for before, after in self.waits_for_moulds:
            yield Gap(before=before, after=(after, Handwork.PREPARE_MOULDS))

    def _pieces_go_on(self) -> Iterator[Gap]:
        """From one firing into the next, by way of the cold station where they are worked there."""
        for first, second, shared in self.scheme.befores():
            parts = [key for key, part in self.cold.items() if key[0] == first and shared & set(part)]
            yield from (Gap(before=part, after=second) for part in parts or (first,))
        for key, part in self.cold.items():
            if key[0] != OUT:
                yield Gap(before=key[0], after=key)
            else:
                yield from (Gap(before=key, after=load) for load in self._first_loads(part))

    def _first_loads(self, pieces: Iterable[int]) -> list[str]:
        """The loads into which some pieces go first of all."""
        first = {(piece, self.asked.pieces[piece].first) for piece in pieces}
        return [
            key
            for key, load in self.scheme.loads.items()
            if any((piece, load.step) in first for piece in load.pieces)
        ]

    def _supplies(self) -> Iterator[SupplyLimit]:
        drawn = {
            key
            for load in self.scheme.loads.values()
            for kiln_id in load.kind.kiln_ids
            for run in self.usable.of(kiln_id, load.step)
            for key, _ in run.draws
        }
        for key in sorted(drawn):
            supply = self.world.supplies[key]
            steps = supply.draws.steps_in(self.world.now, self.world.horizon[1])
            yield SupplyLimit(id=key, limit=supply.limit, drawn=tuple(steps))

    def _stations(self) -> Iterator[StationTaken]:
        for station in self.cold_stations if self.cold else ():
            claims = self.world.claims(station.id).ending_after(self.world.now, 1)
            yield StationTaken(id=station.id, taken=tuple(claim.span for claim in claims))


def days_of(world: World, studio_id: int) -> tuple[Span, ...]:
    """The days of a studio by its clock, from now on as far as is known."""
    zone = world.studios[studio_id].zone
    return tuple(day for _, day in whole_days(world.now, world.horizon[1], zone))
