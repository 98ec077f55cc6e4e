"""What a planned load makes of its kiln: the phases from loading to unloading, and when somebody is there."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scheduling.engine.clock import MINUTES_A_DAY
from scheduling.engine.kiln_work.answers import LoadPlanned, WorkPlanned
from scheduling.engine.kiln_work.bare import flat_piece
from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.records import Apparatus, Duty, Lot, PhaseSpan, StudioRecord
from scheduling.engine.spans import Span
from scheduling.models import KilnJob
from scheduling.snapshot import glass_of, set_up
from studios.thermal import Phase, Piece


@dataclass(frozen=True, kw_only=True)
class Curves:
    """The phases of each load by its key, and the hours in which somebody is at each studio, in minutes."""

    phases: Mapping[str, tuple[PhaseSpan, ...]]
    staffed: Mapping[int, tuple[Span, ...]]


def curves_of(job: KilnJob, plan: WorkPlanned, thickness_mm: float) -> Curves:
    """As the kilns are set up now. Where a program no longer runs, its hours are drawn without a curve."""
    horizon = _horizon(plan)
    studios = {load.studio_id for load in plan.loads} | {work.studio_id for work in plan.handwork}
    found = set_up(studios, horizon)
    piece = flat_piece(glass_of(job.glass), thickness_mm)
    return Curves(
        phases={load.key: _phases(found.studios, found.apparatus, load, piece) for load in plan.loads},
        staffed={key: record.staffed[Duty.PRESENT] for key, record in found.studios.items()},
    )


def _horizon(plan: WorkPlanned) -> Span:
    """From the day before the first is done until the day after the last."""
    spans = [(load.begins, load.done) for load in plan.loads] + [work.span for work in plan.handwork]
    return min(begin for begin, _ in spans) - MINUTES_A_DAY, max(end for _, end in spans) + MINUTES_A_DAY


def _phases(
    studios: Mapping[int, StudioRecord], apparatus: Mapping[int, Apparatus], load: LoadPlanned, piece: Piece
) -> tuple[PhaseSpan, ...]:
    lot = Lot(
        piece=piece,
        footprint_cm2=load.footprint_cm2,
        in_from=load.closed,
        in_until=load.closed,
        held_by="",
    )
    kiln = apparatus.get(load.kiln_id)
    held = run(studios[load.studio_id], kiln, load.recipe, (lot,)) if kiln is not None else None
    if held is None or isinstance(held, Unrunnable) or held.cool != load.cool:
        return _plain(load)
    return held.held.phases


def _plain(load: LoadPlanned) -> tuple[PhaseSpan, ...]:
    """The hours as they were found, without a temperature."""
    moments = (
        (Phase.LOADING, load.begins, load.closed),
        (Phase.WORKING, load.closed, load.cool),
        (Phase.WAITING, load.cool, load.unload),
        (Phase.UNLOADING, load.unload, load.done),
    )
    return tuple(PhaseSpan(kind=kind, span=(since, until)) for kind, since, until in moments if since < until)
