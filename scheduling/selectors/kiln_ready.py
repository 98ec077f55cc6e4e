"""Where the pieces of a kiln job are handed back, and from when on: for each studio by itself."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from scheduling.engine.clock import moment
from scheduling.engine.kiln_work.answers import WorkPlanned
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.models import KilnJob, Piece
from scheduling.selectors.kiln_stages import ended
from scheduling.selectors.pieces import GONE
from studios.models import Studio


@dataclass(frozen=True, kw_only=True)
class HandedBack:
    """How many pieces a studio fires, and from when on the last of them can be handed back there."""

    studio: Studio
    pieces: int
    at: dt.datetime


def handed_back(job: KilnJob) -> list[HandedBack]:
    """As it is booked, each studio once; none of a job of which nothing is booked."""
    ends: dict[int, list[dt.datetime]] = defaultdict(list)
    loads = job.loads.order_by().values_list("firing__equipment__studio", "firing__occupancy__ends_at")
    worked = job.steps.filter(does=Handwork.COLD_WORK).order_by()
    for studio, end in (*loads, *((step.studio_id, ended(step)) for step in worked)):
        ends[studio].append(end)
    stands = Piece.objects.filter(job=job).exclude(state__in=GONE).order_by()
    fired = stands.values_list("pk", "stands__load__firing__equipment__studio").distinct()
    return _by_studio({key: max(every) for key, every in ends.items()}, fired)


def handed_back_by(plan: WorkPlanned) -> list[HandedBack]:
    """As it is planned: each studio once."""
    fired = {(stand.piece, load.studio_id) for load in plan.loads for stand in load.stands}
    fired |= {(piece, work.studio_id) for work in plan.handwork for piece in work.of}
    return _by_studio({key: moment(end) for key, end in plan.ready_at.items()}, fired)


def _by_studio(ends: dict[int, dt.datetime], fired: Iterable[tuple[int, int | None]]) -> list[HandedBack]:
    counts: dict[int | None, int] = defaultdict(int)
    for _, studio in fired:
        counts[studio] += 1
    studios = Studio.objects.in_bulk(ends)
    return [
        HandedBack(studio=studios[key], pieces=counts[key], at=ends[key])
        for key in sorted(ends, key=lambda key: (ends[key], key))
    ]
