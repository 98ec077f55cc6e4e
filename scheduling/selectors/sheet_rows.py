"""What stands in a studio and what it draws on, as the week sheet reads it: two queries for all studios."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from uuid import UUID

from django.db.models import Case, F, FilteredRelation, OuterRef, Q, QuerySet, Subquery, When
from django.db.models.functions import Coalesce

from scheduling.engine.clock import moment
from scheduling.engine.spans import Span
from scheduling.minutes import Minute
from studios.models import Equipment, EquipmentKind, Supply, ThermalRecord
from studios.models.equipment import UNITS


@dataclass(frozen=True, kw_only=True)
class OutageSpan:
    """Hours in which a piece of equipment is out of use, and why."""

    span: Span
    reason: str


@dataclass(kw_only=True)
class EquipmentRow:
    """One piece of equipment, the temperature it stands at when nothing holds it, and its outages."""

    id: int
    uid: UUID
    kind: str
    name: str
    number: int
    places: int
    station_id: int | None
    rest_c: float | None
    outages: list[OutageSpan] = field(default_factory=list)


@dataclass(kw_only=True)
class SupplyRow:
    """A supply and what is drawn from it: from when, to when, how much."""

    name: str
    unit: str
    limit: float
    uses: list[tuple[int, int, float]] = field(default_factory=list)


_FACTS = ("id", "uid", "kind", "name", "number", "places", "station_id", "rest_c")


def equipment_of(studio_ids: Collection[int], span: Span, day: dt.date) -> dict[int, list[EquipmentRow]]:
    """The equipment in use at some studios by studio, as it is on a day."""
    rows = (
        Equipment.objects.filter(studio_id__in=studio_ids, active=True)
        .annotate(rest_c=_rest_c(day), down=FilteredRelation("outages", condition=_within("outages", span)))
        .annotate(begins=Minute("down__starts_at"), ends=Minute("down__ends_at"))
        .order_by("kind", "number", "name", "id", "begins")
    )
    columns = ("studio_id", "begins", "ends", "down__reason", *_FACTS)
    found: dict[int, dict[int, EquipmentRow]] = defaultdict(dict)
    for studio_id, begins, ends, reason, *facts in rows.values_list(*columns):
        known = found[studio_id]
        if facts[0] not in known:
            known[facts[0]] = EquipmentRow(**dict(zip(_FACTS, facts, strict=True)))
        if begins is not None:
            known[facts[0]].outages.append(OutageSpan(span=(begins, ends), reason=reason))
    return defaultdict(list, {studio_id: list(each.values()) for studio_id, each in found.items()})


def _rest_c(day: dt.date) -> Case:
    """A furnace is always hot; the rest stands at its ambient, or has no temperature at all.

    The record in force is the latest that has begun, else the first there is (`Equipment.record_on`).
    """
    begun = _records().filter(valid_from__lte=day).order_by("-valid_from")
    first = _records().order_by("valid_from")
    ambient = Coalesce(Subquery(begun.values("ambient_c")[:1]), Subquery(first.values("ambient_c")[:1]))
    return Case(When(kind=EquipmentKind.FURNACE, then=F("working_c")), default=ambient)


def _records() -> QuerySet[ThermalRecord]:
    return ThermalRecord.objects.filter(equipment=OuterRef("pk"))


def supplies_of(studio_ids: Collection[int], span: Span) -> dict[int, list[SupplyRow]]:
    """The supplies of some studios by studio, with all that is drawn within a span."""
    rows = (
        Supply.objects.filter(studio_id__in=studio_ids)
        .annotate(drawn=FilteredRelation("uses", condition=_within("uses", span)))
        .annotate(begins=Minute("drawn__starts_at"), ends=Minute("drawn__ends_at"))
        .order_by("kind", "name", "id", "begins")
    )
    columns = ("studio_id", "id", "name", "kind", "limit", "begins", "ends", "drawn__amount")
    found: dict[int, dict[int, SupplyRow]] = defaultdict(dict)
    for studio_id, key, name, kind, limit, begins, ends, amount in rows.values_list(*columns):
        supplies = found[studio_id]
        if key not in supplies:
            supplies[key] = SupplyRow(name=name, unit=UNITS[kind], limit=limit)
        if begins is not None:
            supplies[key].uses.append((begins, ends, amount))
    return defaultdict(list, {studio_id: list(each.values()) for studio_id, each in found.items()})


def _within(path: str, span: Span) -> Q:
    return Q(**{f"{path}__starts_at__lt": moment(span[1]), f"{path}__ends_at__gt": moment(span[0])})
