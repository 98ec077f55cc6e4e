"""The schemes that are worth a search: for each firing some ways to put it into loads, and those combined."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import product

from scheduling.engine.clock import MINUTES_A_DAY
from scheduling.engine.kiln_work.alignment import aligned
from scheduling.engine.kiln_work.asked import Aim
from scheduling.engine.kiln_work.bench import Bench
from scheduling.engine.kiln_work.costs import firing_cost
from scheduling.engine.kiln_work.laying import NOTHING, Laid, Laying, LoadLaid
from scheduling.engine.kiln_work.scheme import Scheme
from scheduling.engine.kiln_work.schemes import Turns, schemes
from scheduling.engine.kiln_work.sketch import Sketch, in_order
from scheduling.engine.kiln_work.turns import turns_of

# So many ways to fire each step are combined, those that are over first and those of the fewest loads.
SOONEST, FEWEST = 6, 2
# Of schemes for which no rough sketch finds room so many are searched for all that.
DOUBTFUL = 1
# At so many moments those that have come are parted from those that have not.
MOST_PARTED = 3


def candidates(bench: Bench, stop: Callable[[], bool]) -> list[Scheme]:
    """The schemes at one studio, the most promising first. Once `stop()` is true, those so far."""
    by_step: list[list[Laid]] = [[NOTHING]] * len(bench.asked.route.firings)
    out: list[int] = []
    for step in bench.steps:
        turns = _turns(bench, step, min([*bench.new(step).values(), *out], default=bench.first))
        laying = Laying(step=step, firing=bench.asked.route.firings[step], stop=stop)
        every = schemes(laying, bench.stood(step), bench.kinds, turns)
        by_step[step] = _worth(bench, [*every, *_in_two_parts(bench, laying, turns)])
        out = [done[0] for done in turns.values() if done]
    ways = (way for laid in product(*by_step) for way in _full_or_scant_first(laid))
    found = sorted((_combined(bench, way) for way in ways), key=lambda each: rank(bench, each))
    drawn = [each for each in found if each.over < bench.world.horizon[1]]
    doubtful = [each for each in found if each.over >= bench.world.horizon[1]]
    return drawn + doubtful[:DOUBTFUL]


def _in_two_parts(bench: Bench, laying: Laying, turns: Turns) -> Iterator[Laid]:
    """Where pieces come at different times: those that are there first by themselves, and all others."""
    new = bench.new(laying.step)
    for minute in sorted(set(new.values()))[:MOST_PARTED]:
        first = [piece for piece, begins in new.items() if begins <= minute]
        others = [piece for piece in bench.through(laying.step) if piece not in first]
        if others and not laying.stop():
            parts = (
                schemes(laying, bench.stood(laying.step, part), bench.kinds, turns)
                for part in (first, others)
            )
            yield sum((laid for part in parts for laid in _worth(bench, part)[:1]), start=NOTHING)


def _turns(bench: Bench, step: int, since: int) -> Turns:
    """When the kilns of each kind are done with one load, two, and so on, if all they do is this firing."""
    most = len(bench.stood(step))
    return {
        kind: turns_of([bench.usable.of(key, step) for key in kind.kiln_ids], since, most)
        for kind in bench.kinds
    }


def _sketch(bench: Bench) -> Sketch:
    return Sketch(bench=bench, ready=dict(bench.begins))


def _worth(bench: Bench, every: Sequence[Laid]) -> list[Laid]:
    """Of the ways to fire one step those that are over soonest, and those that take the fewest loads."""
    over = []
    for laid in every:
        sketch = _sketch(bench)
        sketch.draw(laid.loads)
        over.append(sketch.over)
    soonest = sorted(range(len(every)), key=lambda n: (over[n], len(every[n].loads), n))[:SOONEST]
    fewest = sorted(range(len(every)), key=lambda n: (len(every[n].loads), over[n], n))[:FEWEST]
    return [every[number] for number in dict.fromkeys((*soonest, *fewest))]


def _full_or_scant_first(laid: Sequence[Laid]) -> Iterator[Sequence[Laid]]:
    """What is ready first goes into the first loads, which are the fullest; or into the last ones."""
    yield laid
    if any(len({(load.kind, len(load.pieces)) for load in each.loads}) > 1 for each in laid):
        yield tuple(replace(each, loads=each.loads[::-1]) for each in laid)


def _combined(bench: Bench, laid: Sequence[Laid]) -> Scheme:
    """The loads of all firings; pieces of one size go on as they come."""
    sketch, drawn, loads = _sketch(bench), list[Laid](), list[LoadLaid]()
    for each in laid:
        goes_on = aligned(each.loads, sketch.ready)
        drawn.append(replace(each, loads=tuple(in_order(goes_on, sketch.draw(goes_on)))))
        loads += drawn[-1].loads
    through = _sketch(bench)
    through.draw_through(loads)
    cost = sum(_least_cost(bench, load) for load in loads)
    return Scheme(laid=tuple(drawn), over=min(sketch.over, through.over), least_cost=cost)


def rank(bench: Bench, scheme: Scheme) -> tuple[float, ...]:
    """The less, the more a scheme promises."""
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
                bench.usable.shelves_of(kiln_id),
                energy_kwh=run.plan.energy_kwh,
                shelves=len(load.shelves),
                minutes=run.cools_after + run.kiln.clear_min,
            )
