"""The schemes that are worth a search: for each firing some ways to put it into loads, and those combined."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

from scheduling.engine.clock import MINUTES_A_DAY
from scheduling.engine.kiln_work.alignment import aligned
from scheduling.engine.kiln_work.asked import Aim, WorkAsked
from scheduling.engine.kiln_work.costs import firing_cost
from scheduling.engine.kiln_work.kilns import Usable
from scheduling.engine.kiln_work.laying import Laid, Laying, LoadLaid, ShelfKind
from scheduling.engine.kiln_work.scheme import Scheme
from scheduling.engine.kiln_work.schemes import schemes
from scheduling.engine.kiln_work.sketch import Sketch, in_order
from scheduling.engine.kiln_work.stood import stood_in
from scheduling.engine.kiln_work.turns import turns_of
from scheduling.engine.packing import Shelf
from scheduling.engine.world import World

# So many ways to fire each step are combined, those that are over first and those of the fewest loads.
SOONEST, FEWEST = 6, 2


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What candidates are made of: the work, and one studio with its kilns."""

    world: World
    asked: WorkAsked
    usable: Usable
    studio_id: int

    @property
    def first(self) -> int:
        """When the first loading may begin: the pieces are there, and what was glued or painted is dry."""
        return max(self.world.now, self.asked.arrives + self.asked.route.first_after_min)

    @property
    def kinds(self) -> tuple[ShelfKind, ...]:
        """The kilns of the studio, those with the same shelves together."""
        alike: dict[tuple[Shelf, int], list[int]] = {}
        for each in self.usable.kilns:
            if self.world.apparatus[each.kiln_id].studio_id == self.studio_id:
                alike.setdefault((each.shelf, each.levels), []).append(each.kiln_id)
        return tuple(
            ShelfKind(studio_id=self.studio_id, shelf=shelf, levels=levels, kiln_ids=tuple(sorted(kiln_ids)))
            for (shelf, levels), kiln_ids in alike.items()
        )


def candidates(bench: Bench) -> list[Scheme]:
    """The schemes at one studio, the most promising first."""
    since, by_step = bench.first, []
    for step, firing in enumerate(bench.asked.route.firings):
        stood = stood_in(firing, bench.asked.pieces, range(len(bench.asked.pieces)))
        kilns = {kind: [bench.usable.of(key, step) for key in kind.kiln_ids] for kind in bench.kinds}
        turns = {kind: turns_of(runs, since, len(stood)) for kind, runs in kilns.items()}
        by_step.append(_worth(bench, schemes(Laying(step=step, firing=firing), stood, bench.kinds, turns)))
        since = min((done[0] for done in turns.values() if done), default=since)
    found = (_combined(bench, laid) for laid in product(*by_step))
    return sorted((each for each in found if each is not None), key=lambda each: _rank(bench, each))


def _worth(bench: Bench, every: Sequence[Laid]) -> list[Laid]:
    """Of the ways to fire one step those that are over soonest, and those that take the fewest loads."""
    over = {}
    for number, laid in enumerate(every):
        sketch = Sketch(usable=bench.usable, begins=bench.first, cold_min_each=0)
        if sketch.draw(laid.loads, cold=False) is not None:
            over[number] = sketch.over
    soonest = sorted(over, key=lambda n: (over[n], len(every[n].loads), n))[:SOONEST]
    fewest = sorted(over, key=lambda n: (len(every[n].loads), over[n], n))[:FEWEST]
    return [every[number] for number in dict.fromkeys((*soonest, *fewest))]


def _combined(bench: Bench, laid: Sequence[Laid]) -> Scheme | None:
    """The loads of all firings, drawn one after the other; pieces of one size go on as they come."""
    asked = bench.asked
    sketch = Sketch(usable=bench.usable, begins=bench.first, cold_min_each=asked.cold_min_each)
    before: Sequence[LoadLaid] = ()
    drawn: list[Laid] = []
    for each, firing in zip(laid, asked.route.firings, strict=True):
        loads = aligned(each.loads, before) if before else each.loads
        done = sketch.draw(loads, cold=firing.cold_work)
        if done is None:
            return None
        before = in_order(loads, done)
        drawn.append(replace(each, loads=tuple(before)))
    cost = sum(_least_cost(bench, load) for each in drawn for load in each.loads)
    return Scheme(studio_id=bench.studio_id, laid=tuple(drawn), over=sketch.over, least_cost=cost)


def _rank(bench: Bench, scheme: Scheme) -> tuple[float, ...]:
    cost = scheme.least_cost
    if bench.asked.aim is Aim.EARLIEST:
        return scheme.over, cost, scheme.shelves
    if bench.asked.aim is Aim.CHEAPEST:
        return cost, scheme.over, scheme.shelves
    # Somebody comes on nearly every day until all is ready.
    return scheme.over // MINUTES_A_DAY, len(scheme.loads), cost


def _least_cost(bench: Bench, load: LoadLaid) -> float:
    return min(_costs(bench, load))


def _costs(bench: Bench, load: LoadLaid) -> Iterator[float]:
    for kiln_id in load.kind.kiln_ids:
        for run in bench.usable.of(kiln_id, load.step):
            yield firing_cost(
                bench.asked,
                bench.usable.shelves_of(kiln_id),
                bench.studio_id,
                energy_kwh=run.plan.energy_kwh,
                shelves=len(load.shelves),
                minutes=run.cools_after + run.kiln.clear_min,
            )
