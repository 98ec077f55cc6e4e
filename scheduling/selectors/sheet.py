"""The week sheet: every piece of equipment of some studios over whole local days."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from uuid import UUID

from django.db.models import prefetch_related_objects

from scheduling.engine.clock import MIDNIGHT, day_span, edge_minutes, moment
from scheduling.engine.spans import Span
from scheduling.models import Occupancy, Session
from scheduling.selectors.held import HeldSpan, Viewer, held_between
from scheduling.selectors.least import flagged_at
from scheduling.selectors.sheet_rows import EquipmentRow, OutageSpan, SupplyRow, equipment_of, supplies_of
from scheduling.snapshot import weekly_spans
from studios.models import EquipmentKind, Studio

# From the hottest to the cold; a bench or pipe warmer stands under its glory hole.
KIND_ORDER = [
    EquipmentKind.FURNACE,
    EquipmentKind.GLORY_HOLE,
    EquipmentKind.BENCH,
    EquipmentKind.PIPE_WARMER,
    EquipmentKind.ANNEALER,
    EquipmentKind.KILN,
    EquipmentKind.TORCH,
    EquipmentKind.COLD_STATION,
]


@dataclass(frozen=True, kw_only=True)
class Strip:
    """One piece of equipment: what holds it, and the temperature it stands at when nothing does."""

    uid: UUID
    kind: str
    name: str
    number: int
    places: int
    rest_c: float | None
    held: tuple[HeldSpan, ...]
    outages: tuple[OutageSpan, ...]


@dataclass(frozen=True, kw_only=True)
class SupplyStrip:
    """A supply's draw as steps: from a minute on, so much in the unit of its kind."""

    name: str
    unit: str
    limit: float
    steps: tuple[tuple[int, float], ...]

    @property
    def peak(self) -> float:
        return max((amount for _, amount in self.steps), default=0.0)


@dataclass(frozen=True, kw_only=True)
class StudioDays:
    """One studio over some local days, by its own clock; `few`: its classes below their least number."""

    studio: Studio
    span: Span
    days: tuple[tuple[dt.date, int], ...]
    staffed: tuple[Span, ...]
    closures: tuple[tuple[Span, str], ...]
    strips: tuple[Strip, ...]
    supplies: tuple[SupplyStrip, ...]
    few: tuple[Session, ...]

    @cached_property
    def empty(self) -> bool:
        """Nothing is booked; a furnace that stands hot does not count."""
        return not any(strip.held for strip in self.strips)

    @cached_property
    def listed(self) -> bool:
        """Something is held or out of use, so that the table has a row."""
        return any(strip.held or strip.outages for strip in self.strips)


@dataclass(frozen=True, kw_only=True)
class Neighbour:
    """The nearest day on which something is booked."""

    studio: str
    day: dt.date
    starts_at: dt.datetime


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """The studios' days; where all are empty, the bookings before and after them."""

    studios: tuple[StudioDays, ...]
    before: Neighbour | None
    after: Neighbour | None

    @property
    def empty(self) -> bool:
        return all(days.empty for days in self.studios)

    @property
    def listed(self) -> bool:
        return any(days.listed for days in self.studios)


@dataclass(frozen=True, kw_only=True)
class _Read:
    """What was read for all studios at once: by studio, and what is held by equipment."""

    equipment: dict[int, list[EquipmentRow]]
    supplies: dict[int, list[SupplyRow]]
    held: dict[int, list[HeldSpan]]
    few: list[Session]


def sheet(*, studios: Sequence[Studio], first_day: dt.date, day_count: int, viewer: Viewer) -> Sheet:
    """The facts of the sheet, in a number of queries that does not grow with what is booked."""
    if not studios:
        return Sheet(studios=(), before=None, after=None)
    prefetch_related_objects(studios, "staffed_hours", "closures")
    days = [first_day + dt.timedelta(days=n) for n in range(day_count)]
    spans = [_span(studio, days) for studio in studios]
    whole = min(start for start, _ in spans), max(end for _, end in spans)
    ids = [studio.pk for studio in studios]
    read = _read(ids, whole, days[0], viewer)
    shown = tuple(_studio_days(studio, days, span, read) for studio, span in zip(studios, spans, strict=True))
    empty = all(one.empty for one in shown)
    return Sheet(
        studios=shown,
        before=_neighbour(ids, before=whole[0]) if empty else None,
        after=_neighbour(ids, after=whole[1]) if empty else None,
    )


def _read(studio_ids: Collection[int], span: Span, day: dt.date, viewer: Viewer) -> _Read:
    return _Read(
        equipment=equipment_of(studio_ids, span, day),
        supplies=supplies_of(studio_ids, span),
        held=_by_equipment(held_between(studio_ids=studio_ids, span=span, viewer=viewer)),
        few=flagged_at(studio_ids, moment(span[0]), moment(span[1])),
    )


def _span(studio: Studio, days: Sequence[dt.date]) -> Span:
    start, _ = day_span(days[0], MIDNIGHT, MIDNIGHT, studio.zone)
    _, end = day_span(days[-1], MIDNIGHT, MIDNIGHT, studio.zone)
    return start, end


def _by_equipment(held: Iterable[HeldSpan]) -> dict[int, list[HeldSpan]]:
    found: dict[int, list[HeldSpan]] = defaultdict(list)
    for one in held:
        found[one.equipment_id].append(one)
    return found


def _studio_days(studio: Studio, days: Sequence[dt.date], span: Span, read: _Read) -> StudioDays:
    return StudioDays(
        studio=studio,
        span=span,
        days=tuple((day, edge_minutes(day, MIDNIGHT, studio.zone)) for day in days),
        staffed=weekly_spans(studio, studio.staffed_hours.all(), span),
        closures=_closures(studio, days),
        strips=tuple(_strip(one, span, read.held) for one in _in_order(read.equipment[studio.pk])),
        supplies=tuple(
            SupplyStrip(name=row.name, unit=row.unit, limit=row.limit, steps=steps_of(row.uses, span))
            for row in read.supplies[studio.pk]
        ),
        few=tuple(one for one in read.few if one.studio_id == studio.pk),
    )


def _strip(row: EquipmentRow, span: Span, held: dict[int, list[HeldSpan]]) -> Strip:
    start, end = span
    return Strip(
        uid=row.uid,
        kind=row.kind,
        name=row.name,
        number=row.number,
        places=row.places,
        rest_c=row.rest_c,
        held=tuple(one for one in held.get(row.id, ()) if one.span[0] < end and one.span[1] > start),
        outages=tuple(one for one in row.outages if one.span[0] < end and one.span[1] > start),
    )


def _in_order(equipment: Sequence[EquipmentRow]) -> list[EquipmentRow]:
    stations = {one.id: one for one in equipment}

    def place(one: EquipmentRow) -> tuple[int, int, int, int]:
        station = stations.get(one.station_id or 0, one)
        rank = KIND_ORDER.index(EquipmentKind(station.kind))
        return rank, station.number, KIND_ORDER.index(EquipmentKind(one.kind)), one.number

    return sorted(equipment, key=place)


def _closures(studio: Studio, days: Sequence[dt.date]) -> tuple[tuple[Span, str], ...]:
    return tuple(
        (day_span(day, MIDNIGHT, MIDNIGHT, studio.zone), closure.reason)
        for day in days
        for closure in studio.closures.all()
        if closure.first_day <= day <= closure.last_day
    )


def steps_of(uses: Iterable[tuple[int, int, float]], span: Span) -> tuple[tuple[int, float], ...]:
    """Draws added up over time: at each minute where the sum changes, the sum from there on."""
    changes: dict[int, float] = defaultdict(float)
    for start, end, amount in uses:
        if max(start, span[0]) < min(end, span[1]):
            changes[max(start, span[0])] += amount
            changes[min(end, span[1])] -= amount
    steps, total = [], 0.0
    for minute in sorted(changes):
        total += changes[minute]
        steps.append((minute, round(total, 6) + 0.0))
    return tuple(steps)


def _neighbour(
    studio_ids: Collection[int], *, before: int | None = None, after: int | None = None
) -> Neighbour | None:
    occupancies = Occupancy.objects.filter(equipment__studio_id__in=studio_ids).select_related(
        "equipment__studio"
    )
    if before is not None:
        found = occupancies.filter(ends_at__lte=moment(before)).order_by("-starts_at").first()
    else:
        found = occupancies.filter(starts_at__gte=moment(after or 0)).order_by("starts_at").first()
    if found is None:
        return None
    studio = found.equipment.studio
    return Neighbour(
        studio=studio.name, day=found.starts_at.astimezone(studio.zone).date(), starts_at=found.starts_at
    )
