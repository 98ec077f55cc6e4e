"""Kiln work answered: the best plan over several nights, or why there is none.

asked --what fires it--> kilns --laid out--> schemes --planner--> plans --engine--> the best, as it is told
"""

from __future__ import annotations

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.kiln_work.bare import never_waiting
from scheduling.engine.kiln_work.candidates import Bench
from scheduling.engine.kiln_work.kilns import usable
from scheduling.engine.kiln_work.never import no_cold_station
from scheduling.engine.kiln_work.refusals import no_kiln, too_large, unfireable
from scheduling.engine.kiln_work.searching import OnBetter, Search, Stop
from scheduling.engine.records import Kind
from scheduling.engine.world import World


def answer(
    world: World,
    asked: WorkAsked,
    *,
    on_better: OnBetter | None = None,
    stop: Stop | None = None,
    seconds: float = 20.0,
) -> WorkPlanned | WorkRefused:
    """The best plan by the aim; of equally good ones the earliest, the cheapest, that of the fewest shelves.

    `on_better` hears of each better plan. Once `stop()` is true, or the time is over, the best so far is the
    answer. Loads of one plan are all at one studio: the pieces stay together.
    """
    refused = unfireable(asked)
    if refused is not None:
        return refused
    calm = never_waiting(world)
    benches = _benches(calm, asked)
    if isinstance(benches, WorkRefused):
        return benches
    return Search(benches=benches, on_better=on_better, stop=stop, seconds=seconds).answer()


def _benches(world: World, asked: WorkAsked) -> list[Bench] | WorkRefused:
    """The studios that can fire all of it, each with its kilns; or why there is none."""
    fit = usable(world, asked)
    if not fit.kilns:
        return no_kiln(fit.left_out)
    studios = dict.fromkeys(world.apparatus[each.kiln_id].studio_id for each in fit.kilns)
    benches = [Bench(world=world, asked=asked, usable=fit, studio_id=key) for key in studios]
    roomy = [bench for bench in benches if too_large(asked, bench.kinds) is None]
    if not roomy:
        every = [kind for bench in benches for kind in bench.kinds]
        return too_large(asked, every) or too_large(asked, benches[0].kinds) or no_kiln(fit.left_out)
    if not _worked_cold(asked):
        return roomy
    equipped = [bench for bench in roomy if world.of_kind(bench.studio_id, Kind.COLD_STATION)]
    return equipped or no_cold_station(world.studios[roomy[0].studio_id])


def _worked_cold(asked: WorkAsked) -> bool:
    return asked.cold_min_each > 0 and any(firing.cold_work for firing in asked.route.firings)
