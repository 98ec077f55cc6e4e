"""The day of a technician: what is lit, loaded, unloaded, charged and brought on one day of a studio."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import dataclass

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.spans import Span
from scheduling.models import Outage, Refill, RefillStatus
from scheduling.selectors.held import HeldSpan, Viewer, held_between
from studios.models import Equipment, EquipmentKind, Studio
from studios.thermal import Phase

# Whoever reads the sheet of a studio minds its equipment and may know who works at it.
BEGUN = {
    Phase.LOADING: "load",
    Phase.PURGE: "purge and check",
    Phase.UNLOADING: "unload",
    Phase.CHARGING: "charge",
}


@dataclass(frozen=True, kw_only=True, order=True)
class Duty:
    """Something to be done at a time, at some equipment, for something."""

    at: dt.datetime
    does: str
    what: str
    why: str


def duties_on(studio: Studio, day: dt.date) -> tuple[Duty, ...]:
    """What begins on a day by the studio's clock, in order of time; equipment that is alike is one duty.

    A day on which the clocks change has 23 or 25 hours.
    """
    span = _span_of(studio, day)
    found = [*_begun(studio, span), *_outages(studio, span), *_refills(studio, span)]
    return tuple(sorted(_together(found)))


def _span_of(studio: Studio, day: dt.date) -> Span:
    midnight = dt.datetime.combine(day, dt.time(), studio.zone)
    after = dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), studio.zone)
    return floor_minutes(midnight), floor_minutes(after)


def _begun(studio: Studio, span: Span) -> list[Duty]:
    viewer = Viewer(person_id=0, staff_at=frozenset({studio.pk}), everywhere=False)
    equipment = Equipment.objects.filter(studio=studio).in_bulk()
    duties = []
    for held in held_between(studio_ids=[studio.pk], span=span, viewer=viewer):
        one = equipment[held.equipment_id]
        for phase in held.phases:
            does = does_at(one, phase.kind)
            if does and span[0] <= phase.span[0] < span[1]:
                duties.append(Duty(at=moment(phase.span[0]), does=does, what=one.name, why=why(held)))
    return duties


def does_at(equipment: Equipment, phase: Phase) -> str | None:
    """Gas is lit, a kiln is switched on, and either is attended to when it begins; a bench is just there."""
    if equipment.kind == EquipmentKind.BENCH:
        return None
    if phase == Phase.HEAT_UP:
        return "light" if equipment.gas_fired else "switch on"
    if phase == Phase.PURGE and equipment.kind != EquipmentKind.TORCH:
        return None
    return BEGUN.get(phase)


def why(held: HeldSpan) -> str:
    """What something is done for, and for whom."""
    holder = held.holder
    return f"{holder.title}, {holder.who}" if holder.who else holder.title


def _outages(studio: Studio, span: Span) -> list[Duty]:
    rows = Outage.objects.filter(
        equipment__studio=studio, starts_at__gte=moment(span[0]), starts_at__lt=moment(span[1])
    )
    return [
        Duty(at=row.starts_at, does="take out of use", what=row.equipment.name, why=row.reason)
        for row in rows.select_related("equipment")
    ]


def _refills(studio: Studio, span: Span) -> list[Duty]:
    planned = Refill.objects.filter(
        supply__studio=studio,
        status=RefillStatus.PLANNED,
        at__gte=moment(span[0]),
        at__lt=moment(span[1]),
    )
    return [
        Duty(at=row.at, does="refill", what=row.supply.name, why="as planned")
        for row in planned.select_related("supply")
    ]


def _together(duties: list[Duty]) -> list[Duty]:
    alike: dict[tuple[dt.datetime, str, str], dict[str, None]] = defaultdict(dict)
    for duty in duties:
        alike[duty.at, duty.does, duty.why][duty.what] = None
    return [
        Duty(at=at, does=does, why=why, what=", ".join(names)) for (at, does, why), names in alike.items()
    ]
