"""Plans for kiln jobs with public names and instants in place of keys and minutes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from scheduling.engine.clock import moment
from scheduling.engine.kiln_work.answers import (
    HandworkPlanned,
    LoadPlanned,
    StandPlanned,
    WorkPlanned,
    from_json,
)
from scheduling.models import KilnAnswer
from scheduling.selectors.kiln_ready import handed_back_by
from scheduling.selectors.pieces import pieces_to_fire
from studios.models import Equipment, Studio


def planned(answer: KilnAnswer) -> dict[str, Any]:
    """The plan of an answer that has one. Pieces that were only supposed come after the others."""
    plan = from_json(answer.plan or {})
    kilns, studios = _equipment(plan), Studio.objects.in_bulk({work.studio_id for work in plan.handwork})
    labels = list(pieces_to_fire(answer.job).values_list("label", "number"))
    return {
        "loads": [_load(load, kilns, labels) for load in sorted(plan.loads, key=lambda one: one.begins)],
        "handwork": [
            _handwork(work, kilns, studios, labels)
            for work in sorted(plan.handwork, key=lambda one: one.span)
        ],
        "handed_back": handed_back_by(plan),
        "shelves": plan.shelves,
        "shelves_bound": plan.shelves_bound,
        "bound_by": plan.bound_by,
        "visits": len(plan.visits),
        "cost": round(plan.cost, 2),
        "cost_of": [round(part, 4) for part in plan.cost_of],
    }


def refused(answer: KilnAnswer) -> dict[str, Any]:
    """Why an answer has none."""
    refusal = answer.refusal or {}
    earliest = refusal.get("earliest")
    return {
        "code": refusal.get("code", ""),
        "sentence": refusal.get("sentence", ""),
        "earliest_at": None if earliest is None else moment(earliest),
    }


def _equipment(plan: WorkPlanned) -> Mapping[int, Equipment]:
    keys = {load.kiln_id for load in plan.loads} | {work.station_id for work in plan.handwork} - {None}
    return Equipment.objects.select_related("studio").in_bulk(keys)


def _load(
    load: LoadPlanned, kilns: Mapping[int, Equipment], labels: Sequence[tuple[str, int]]
) -> dict[str, Any]:
    return {
        "step": load.step,
        "recipe": load.recipe.value,
        "kiln": kilns.get(load.kiln_id),
        "begins_at": moment(load.begins),
        "closed_at": moment(load.closed),
        "cool_at": moment(load.cool),
        "unload_at": moment(load.unload),
        "done_at": moment(load.done),
        "shelves": list(_shelves(load, labels)),
        "energy_kwh": round(load.energy_kwh, 2),
        "cost": round(load.cost, 2),
    }


def _shelves(load: LoadPlanned, labels: Sequence[tuple[str, int]]) -> Iterator[dict[str, Any]]:
    on: dict[int, list[StandPlanned]] = defaultdict(list)
    for stand in load.stands:
        on[stand.level].append(stand)
    for level, fill in enumerate(load.fill, 1):
        yield {
            "level": level,
            "fill": round(fill, 4),
            "stands": [_stand(stand, labels) for stand in on[level]],
        }


def _named(piece: int, labels: Sequence[tuple[str, int]]) -> tuple[str | None, int]:
    return labels[piece] if piece < len(labels) else (None, piece + 1)


def _stand(stand: StandPlanned, labels: Sequence[tuple[str, int]]) -> dict[str, Any]:
    label, number = _named(stand.piece, labels)
    return {
        "number": number,
        "piece": label,
        "x_mm": stand.x_mm,
        "y_mm": stand.y_mm,
        "length_mm": stand.length_mm,
        "width_mm": stand.width_mm,
        "round": stand.round,
    }


def _handwork(
    work: HandworkPlanned,
    stations: Mapping[int, Equipment],
    studios: Mapping[int, Studio],
    labels: Sequence[tuple[str, int]],
) -> dict[str, Any]:
    return {
        "does": work.does.value,
        "studio": studios[work.studio_id].slug,
        "station": None if work.station_id is None else stations.get(work.station_id),
        "starts_at": moment(work.span[0]),
        "ends_at": moment(work.span[1]),
        "pieces": work.pieces,
        "of": [label for piece in work.of if (label := _named(piece, labels)[0]) is not None],
    }
