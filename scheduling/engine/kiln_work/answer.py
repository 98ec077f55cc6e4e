"""Kiln work answered: the best plan over several nights, or why there is none.

asked --what fires it, and where--> places --laid out--> schemes --planner--> plans --engine--> the best, told
"""

from __future__ import annotations

from scheduling.engine.kiln_work.answers import WorkPlanned, WorkRefused
from scheduling.engine.kiln_work.asked import WorkAsked
from scheduling.engine.kiln_work.bare import never_waiting
from scheduling.engine.kiln_work.kilns import usable
from scheduling.engine.kiln_work.refusals import unfireable
from scheduling.engine.kiln_work.searching import OnBetter, Search, Stop
from scheduling.engine.kiln_work.studios import places
from scheduling.engine.world import World


def answer(
    world: World,
    asked: WorkAsked,
    *,
    on_better: OnBetter | None = None,
    stop: Stop | None = None,
    seconds: float = 20.0,
) -> WorkPlanned | WorkRefused:
    """The best plan by the aim; of equally good ones that at the fewest studios, the earliest, the cheapest.

    `on_better` hears of each better plan. Once `stop()` is true, or the time is over, the best so far is the
    answer. Every piece goes through its whole route at one studio.
    """
    refused = unfireable(asked)
    if refused is not None:
        return refused
    calm = never_waiting(world)
    found = places(calm, asked, usable(calm, asked))
    if isinstance(found, WorkRefused):
        return found
    return Search(places=found, on_better=on_better, stop=stop, seconds=seconds).answer()
