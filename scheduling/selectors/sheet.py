"""The week sheet: every piece of equipment of some studios over whole local days."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import Prefetch, QuerySet

from scheduling.engine.clock import MIDNIGHT, day_span, edge_minutes, floor_minutes, moment
from scheduling.engine.spans import Span
from scheduling.models import Occupancy, Outage, SupplyUse
from scheduling.selectors.held import HeldSpan, Viewer, held_between
from scheduling.snapshot import weekly_spans
from studios.models import Equipment, EquipmentKind, Studio, Supply, ThermalRecord

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
class OutageSpan:
    """Hours in which a piece of equipment is out of use, and why."""

    span: Span
    reason: str


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
    """One studio over some local days, by its own clock."""

    studio: Studio
    span: Span
    days: tuple[tuple[dt.date, int], ...]
    staffed: tuple[Span, ...]
    closures: tuple[tuple[Span, str], ...]
    strips: tuple[Strip, ...]
    supplies: tuple[SupplyStrip, ...]

    @property
    def empty(self) -> bool:
        """Nothing is booked; a furnace that stands hot does not count."""
        return not any(strip.held for strip in self.strips)

    @property
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


@dataclass(frozen=True, kw_only=True)
class _Taken:
    """What was read for all studios at once, by equipment and by supply."""

    held: dict[int, list[HeldSpan]]
    outages: dict[int, list[OutageSpan]]
    uses: dict[int, list[tuple[int, int, float]]]


def sheet(*, studios: QuerySet[Studio], first_day: dt.date, day_count: int, viewer: Viewer) -> Sheet:
    """The facts of the sheet, in a number of queries that does not grow with what is booked."""
    rows = list(studios.prefetch_related("staffed_hours", "closures", *_equipment_and_supplies()))
    if not rows:
        return Sheet(studios=(), before=None, after=None)
    days = [first_day + dt.timedelta(days=n) for n in range(day_count)]
    spans = [_span(studio, days) for studio in rows]
    whole = min(start for start, _ in spans), max(end for _, end in spans)
    ids = [studio.pk for studio in rows]
    taken = _Taken(
        held=_by_equipment(held_between(studio_ids=ids, span=whole, viewer=viewer)),
        outages=_outages(ids, whole),
        uses=_uses(ids, whole),
    )
    shown = tuple(_studio_days(studio, days, taken) for studio in rows)
    empty = all(one.empty for one in shown)
    return Sheet(
        studios=shown,
        before=_neighbour(ids, before=whole[0]) if empty else None,
        after=_neighbour(ids, after=whole[1]) if empty else None,
    )


def _equipment_and_supplies() -> tuple[Prefetch, ...]:
    active = Equipment.objects.filter(active=True).order_by("kind", "number", "name")
    return (
        Prefetch("equipment", queryset=active),
        Prefetch("equipment__thermal_records", queryset=ThermalRecord.objects.order_by("valid_from")),
        Prefetch("supplies", queryset=Supply.objects.order_by("kind", "name")),
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


def _outages(studio_ids: Sequence[int], span: Span) -> dict[int, list[OutageSpan]]:
    found: dict[int, list[OutageSpan]] = defaultdict(list)
    rows = Outage.objects.filter(
        equipment__studio_id__in=studio_ids, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
    ).values_list("equipment_id", "starts_at", "ends_at", "reason")
    for equipment_id, starts_at, ends_at, reason in rows:
        down = OutageSpan(span=(floor_minutes(starts_at), floor_minutes(ends_at)), reason=reason)
        found[equipment_id].append(down)
    return found


def _uses(studio_ids: Sequence[int], span: Span) -> dict[int, list[tuple[int, int, float]]]:
    found: dict[int, list[tuple[int, int, float]]] = defaultdict(list)
    rows = SupplyUse.objects.filter(
        supply__studio_id__in=studio_ids, starts_at__lt=moment(span[1]), ends_at__gt=moment(span[0])
    ).values_list("supply_id", "starts_at", "ends_at", "amount")
    for supply_id, starts_at, ends_at, amount in rows:
        found[supply_id].append((floor_minutes(starts_at), floor_minutes(ends_at), amount))
    return found


def _studio_days(studio: Studio, days: Sequence[dt.date], taken: _Taken) -> StudioDays:
    span = _span(studio, days)
    return StudioDays(
        studio=studio,
        span=span,
        days=tuple((day, edge_minutes(day, MIDNIGHT, studio.zone)) for day in days),
        staffed=weekly_spans(studio, studio.staffed_hours.all(), span),
        closures=_closures(studio, days),
        strips=tuple(_strip(one, days[0], span, taken) for one in _in_order(list(studio.equipment.all()))),
        supplies=tuple(
            SupplyStrip(
                name=supply.name,
                unit=supply.unit,
                limit=supply.limit,
                steps=steps_of(taken.uses.get(supply.pk, []), span),
            )
            for supply in studio.supplies.all()
        ),
    )


def _strip(equipment: Equipment, day: dt.date, span: Span, taken: _Taken) -> Strip:
    def inside(one: HeldSpan | OutageSpan) -> bool:
        return one.span[0] < span[1] and one.span[1] > span[0]

    return Strip(
        uid=equipment.uid,
        kind=equipment.kind,
        name=equipment.name,
        number=equipment.number,
        places=equipment.places,
        rest_c=_rest_c(equipment, day),
        held=tuple(filter(inside, taken.held.get(equipment.pk, []))),
        outages=tuple(filter(inside, taken.outages.get(equipment.pk, []))),
    )


def _in_order(equipment: list[Equipment]) -> list[Equipment]:
    stations = {one.pk: one for one in equipment}

    def place(one: Equipment) -> tuple[int, int, int, int]:
        station = stations.get(one.station_id or 0, one)
        rank = KIND_ORDER.index(EquipmentKind(station.kind))
        return rank, station.number, KIND_ORDER.index(EquipmentKind(one.kind)), one.number

    return sorted(equipment, key=place)


def _rest_c(equipment: Equipment, day: dt.date) -> float | None:
    """A furnace is always hot; the rest stands at its ambient, or has no temperature at all."""
    record = equipment.record_on(day)
    if equipment.kind == EquipmentKind.FURNACE:
        return equipment.working_c
    return record.ambient_c if record else None


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
    studio_ids: Sequence[int], *, before: int | None = None, after: int | None = None
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
