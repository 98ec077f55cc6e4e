"""What is taken, with all that it draws: rows of occupancies and outages to engine records."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.db.models import Q

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.heat import HOT_STATIONS
from scheduling.engine.records import Apparatus, FiringRecord, Lot, Taken, Use
from scheduling.engine.spans import Span
from scheduling.engine.stores import glass_drawn
from scheduling.engine.wording import holders
from scheduling.models import Load, Occupancy, Outage, SupplyUse
from studios.models import GlassType
from studios.said import said
from studios.thermal import Glass, Piece, Recipe, Shape

EVERY_PLACE = 0
# Who holds a place where no class does.
BENCH_TIME, CHARGE, A_FIRING = said("open bench time"), said("the charge of its pot"), said("a firing")
A_LOAD = said("a load")
ROW = (
    "pk",
    "equipment_id",
    "place",
    "exclusive_from",
    "exclusive_to",
    "ends_at",
    "glass_kg",
    "booking__session__starts_at",
    "booking__session__ends_at",
    "booking__session__course__name",
    "booking__job_step__job__title",
    "charge_id",
    "firing_id",
    "firing__recipe",
    "firing__at_hold_at",
    "firing__last_in_at",
    "firing__broken_at",
    "firing__opened_at",
    "firing__unloaded_at",
)
# Nothing goes into a firing that broke off, or that somebody has opened.
CLOSED = ROW[-3:]
FIRING = ROW.index("firing_id")
LOAD = (
    "firing_id",
    "glass_id",
    "shape",
    "thickness_mm",
    "foot_mm",
    "footprint_cm2",
    "in_from",
    "in_until",
    "session__course__name",
    "job__title",
)


@dataclass(frozen=True, kw_only=True)
class Claimed:
    """A claim with what it draws from supplies, and from the pot of its furnace."""

    claim: Taken
    draws: tuple[tuple[int, Use], ...] = ()
    glass: Use | None = None


def claimed_at(
    apparatus: Mapping[int, Apparatus], begin: int, end: int | None = None, *, without: Collection[int] = ()
) -> dict[int, list[Claimed]]:
    """All that is taken of some equipment after a minute, and before another where one is given.

    `without` are occupancies, by their keys, that are as if they were given back, with all that they draw.
    """
    later = Q(exclusive_to__gt=moment(begin))
    later &= Q(exclusive_from__lt=moment(end)) if end is not None else Q()
    taken = Occupancy.objects.filter(later, equipment_id__in=apparatus).exclude(pk__in=without)
    rows = list(taken.values_list(*ROW))
    firings = [row[FIRING] for row in rows]
    lots = _lots([key for key in firings if key is not None])
    draws = _draws(apparatus, begin, end)
    found: dict[int, list[Claimed]] = defaultdict(list)
    for row in rows:
        found[row[1]].append(_claimed(dict(zip(ROW, row, strict=True)), apparatus, lots, draws))
    for outage in _outages(apparatus, begin, end):
        found[outage.apparatus_id].append(Claimed(claim=outage))
    return found


def _claimed(
    row: dict[str, Any],
    apparatus: Mapping[int, Apparatus],
    lots: Mapping[int, tuple[Lot, ...]],
    draws: Mapping[int, list[tuple[int, Use]]],
) -> Claimed:
    one = apparatus[row["equipment_id"]]
    span = _span(row["exclusive_from"], row["exclusive_to"])
    core, firing = span, None
    held_by: str = BENCH_TIME
    if row["booking__session__starts_at"] is not None:
        held_by = row["booking__session__course__name"]
        if one.kind in HOT_STATIONS:
            core = _span(row["booking__session__starts_at"], row["booking__session__ends_at"])
    elif row["booking__job_step__job__title"] is not None:
        held_by = row["booking__job_step__job__title"]
    elif row["charge_id"] is not None:
        held_by = CHARGE
    elif row["firing_id"] is not None:
        own = lots.get(row["firing_id"], ())
        firing = None if any(row[name] for name in CLOSED) else _firing(row, own)
        held_by = holders(lot.held_by for lot in own) or A_FIRING
    claim = Taken(
        apparatus_id=one.id,
        place=row["place"],
        span=span,
        core=core,
        held_by=held_by,
        occupancy_id=row["pk"],
        firing=firing,
    )
    return Claimed(
        claim=claim, draws=_named(draws.get(row["pk"], []), one, held_by), glass=_glass(row, held_by)
    )


def _firing(row: dict[str, Any], lots: tuple[Lot, ...]) -> FiringRecord:
    return FiringRecord(
        id=row["firing_id"],
        recipe=Recipe(row["firing__recipe"]),
        lots=lots,
        ready=floor_minutes(row["firing__at_hold_at"]),
        last_in=floor_minutes(row["firing__last_in_at"]),
    )


def _named(
    draws: Iterable[tuple[int, Use]], apparatus: Apparatus, held_by: str
) -> tuple[tuple[int, Use], ...]:
    """A supply is drawn on by the equipment; a room is filled by the class."""
    return tuple(
        (key, replace(use, held_by=held_by) if key == apparatus.room_id else use) for key, use in draws
    )


def _span(begin: dt.datetime, end: dt.datetime) -> Span:
    return floor_minutes(begin), ceil_minutes(end)


def _glass(row: dict[str, Any], held_by: str) -> Use | None:
    """What a session has drawn from the pot by its end."""
    if not row["glass_kg"]:
        return None
    return Use(
        span=glass_drawn(ceil_minutes(row["ends_at"])),
        amount=row["glass_kg"],
        held_by=held_by,
        occupancy_id=row["pk"],
    )


def _draws(
    apparatus: Mapping[int, Apparatus], begin: int, end: int | None
) -> dict[int, list[tuple[int, Use]]]:
    later = Q(ends_at__gt=moment(begin)) & (Q(starts_at__lt=moment(end)) if end is not None else Q())
    rows = SupplyUse.objects.filter(later, occupancy__equipment_id__in=apparatus).order_by("starts_at", "pk")
    found: dict[int, list[tuple[int, Use]]] = defaultdict(list)
    columns = ("occupancy_id", "occupancy__equipment_id", "supply_id", "starts_at", "ends_at", "amount")
    for occupancy, equipment, supply, since, until, amount in rows.values_list(*columns):
        use = Use(
            span=_span(since, until),
            amount=amount,
            held_by=apparatus[equipment].name,
            occupancy_id=occupancy,
        )
        found[occupancy].append((supply, use))
    return found


def _outages(apparatus: Mapping[int, Apparatus], begin: int, end: int | None) -> Iterable[Taken]:
    later = Q(ends_at__gt=moment(begin)) & (Q(starts_at__lt=moment(end)) if end is not None else Q())
    rows = Outage.objects.filter(later, equipment_id__in=apparatus)
    for equipment, since, until, reason in rows.values_list("equipment_id", "starts_at", "ends_at", "reason"):
        span = _span(since, until)
        yield Taken(
            apparatus_id=equipment, place=EVERY_PLACE, span=span, core=span, held_by=reason, outage=True
        )


def _lots(firing_ids: list[int]) -> dict[int, tuple[Lot, ...]]:
    if not firing_ids:
        return {}
    found: dict[int, list[Lot]] = defaultdict(list)
    rows = Load.objects.filter(firing_id__in=firing_ids).order_by("in_from", "pk").values_list(*LOAD)
    glasses: dict[int, Glass] = {row.pk: row.as_thermal() for row in GlassType.objects.all()}
    for firing, glass, shape, thickness_mm, foot_mm, footprint, in_from, in_until, course, job in rows:
        piece = Piece(glass=glasses[glass], shape=Shape(shape), thickness_mm=thickness_mm, foot_mm=foot_mm)
        found[firing].append(
            Lot(
                piece=piece,
                footprint_cm2=footprint,
                in_from=floor_minutes(in_from),
                in_until=ceil_minutes(in_until),
                held_by=course or job or A_LOAD,
            )
        )
    return {key: tuple(value) for key, value in found.items()}
