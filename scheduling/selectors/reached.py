"""What a firing that runs longer than planned reaches into: later uses, outages, and supplies."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.spans import TOLERANCE, levels
from scheduling.models import Firing, Occupancy, Outage, Session, SupplyUse
from scheduling.selectors.broken import Broken, of_occupancy
from scheduling.selectors.loads import load_title
from scheduling.wording import say, when
from studios.models import Supply
from studios.said import said


@dataclass(frozen=True, kw_only=True)
class FoundHot:
    """A later use of the equipment, or a repair, that finds it hot."""

    key: str
    what: str
    starts_at: dt.datetime
    session: Session | None
    firing: Firing | None


def found_hot(firing: Firing) -> list[FoundHot]:
    """What begins on the equipment before the firing is out of it, in order of time."""
    own = Occupancy.objects.filter(firing=firing).first()
    if own is None:
        return []
    later = _later(own)
    outages = Outage.objects.filter(
        equipment_id=own.equipment_id, ends_at__gt=firing.last_in_at, starts_at__lt=own.ends_at
    )
    found = [*map(_use, later.select_related("firing")), *map(_outage, outages)]
    return sorted(found, key=lambda use: use.starts_at)


def reached_into(firing: Firing) -> tuple[Broken, ...]:
    """Every booking that finds the equipment hot, as what an outage breaks is listed."""
    own = Occupancy.objects.filter(firing=firing).select_related("equipment__studio").first()
    if own is None:
        return ()
    studio = own.equipment.studio
    cool, out = when(firing.cool_at, studio), when(own.ends_at, studio)
    name = own.equipment.name
    why = say("{equipment} is cool at {cool} and unloaded by {out}.", equipment=name, cool=cool, out=out)
    rows = _later(own).select_related("equipment__studio", "firing", "booking", "charge")
    return tuple(each for row in rows.order_by("exclusive_from", "pk") for each in of_occupancy(row, why))


def _later(own: Occupancy) -> QuerySet[Occupancy]:
    """What begins where a firing should have been out, and is not."""
    begins = {"exclusive_from__gte": own.exclusive_to, "exclusive_from__lt": own.ends_at}
    return Occupancy.objects.filter(equipment_id=own.equipment_id, **begins).exclude(pk=own.pk)


def _use(row: Occupancy) -> FoundHot:
    load = row.firing.loads.select_related("session__course", "job").first() if row.firing else None
    session = load.session if load else None
    return FoundHot(
        key=str(row.pk),
        what=load_title(load) if load and (session or load.job) else said("the next load"),
        starts_at=row.exclusive_from,
        session=session,
        firing=row.firing,
    )


def _outage(row: Outage) -> FoundHot:
    return FoundHot(
        key=f"outage-{row.pk}", what=row.reason, starts_at=row.starts_at, session=None, firing=None
    )


@dataclass(frozen=True, kw_only=True)
class OverLimit:
    """A supply that would have to give more than it can, since a firing moved, and from when to when."""

    supply: Supply
    amount: float
    starts_at: dt.datetime
    ends_at: dt.datetime


def over_limit(firing: Firing) -> list[OverLimit]:
    """The minutes to come in which what a firing draws is too much beside the rest."""
    now = floor_minutes(timezone.now())
    own = SupplyUse.objects.filter(occupancy__firing=firing, ends_at__gt=moment(now))
    found = []
    for use in own.select_related("supply").order_by("supply_id", "starts_at"):
        beside = SupplyUse.objects.filter(
            supply=use.supply, starts_at__lt=use.ends_at, ends_at__gt=use.starts_at
        )
        spans = [((floor_minutes(row.starts_at), ceil_minutes(row.ends_at)), row.amount) for row in beside]
        begin, end = max(now, floor_minutes(use.starts_at)), ceil_minutes(use.ends_at)
        for (since, until), total in levels(spans):
            if total > use.supply.limit + TOLERANCE and since < end and until > begin:
                span = moment(max(since, begin)), moment(min(until, end))
                found.append(OverLimit(supply=use.supply, amount=total, starts_at=span[0], ends_at=span[1]))
    return found
