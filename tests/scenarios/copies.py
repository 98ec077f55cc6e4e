"""More studios of the same kind: one copied row by row, with all that is booked there. For measuring only."""

from __future__ import annotations

import uuid
from typing import Any

from django.db.models import ForeignKey, Model

from scheduling.models import (
    Booking,
    Charge,
    Course,
    Firing,
    Load,
    Occupancy,
    OccupancyPhase,
    Refill,
    Session,
    SupplyUse,
)
from studios.models import (
    Draw,
    Equipment,
    Membership,
    Pot,
    Qualification,
    Season,
    StaffedHours,
    Studio,
    Supply,
    ThermalRecord,
)

# What a studio consists of, each after what it refers to, and how its rows are found from the studio.
PARTS: tuple[tuple[type[Any], str], ...] = (
    (StaffedHours, "studio"),
    (Season, "studio"),
    (Membership, "studio"),
    (Qualification, "studio"),
    (Supply, "studio"),
    (Equipment, "studio"),
    (ThermalRecord, "equipment__studio"),
    (Draw, "equipment__studio"),
    (Pot, "furnace__studio"),
    (Booking, "studio"),
    (Session, "studio"),
    (Charge, "furnace__studio"),
    (Firing, "equipment__studio"),
    (Load, "firing__equipment__studio"),
    (Occupancy, "equipment__studio"),
    (OccupancyPhase, "occupancy__equipment__studio"),
    (SupplyUse, "supply__studio"),
    (Refill, "supply__studio"),
)


def copy_of(studio: Studio, number: int) -> Studio:
    """The same studio once more, under another name; whoever teaches there may teach here too."""
    copied: dict[tuple[type[Model], int], int] = {}
    twin = Studio.objects.get(pk=studio.pk)
    twin.pk, twin.name, twin.slug = None, f"{studio.name} {number}", f"{studio.slug}-{number}"
    twin.save()
    copied[Studio, studio.pk] = twin.pk
    for model, path in PARTS:
        rows: list[Any] = list(model.objects.filter(**{path: studio}).order_by("pk"))
        old = [row.pk for row in rows]
        for row in rows:
            _renew(row, copied)
        made = model.objects.bulk_create(rows, batch_size=2000)
        copied.update({(model, key): row.pk for key, row in zip(old, made, strict=True)})
        if model is Equipment:
            _belonging(made, copied)
    for course in Course.objects.filter(studios=studio):
        course.studios.add(twin)
    return twin


def _renew(row: Model, copied: dict[tuple[type[Model], int], int]) -> None:
    """Another row with the same facts, which refers to what has been copied."""
    row.pk = None
    for field in row._meta.concrete_fields:
        if field.name == "uid":
            setattr(row, field.attname, uuid.uuid4())
        elif isinstance(field, ForeignKey):
            target, key = field.remote_field.model, getattr(row, field.attname)
            setattr(row, field.attname, copied.get((target, key), key))


def _belonging(made: list[Any], copied: dict[tuple[type[Model], int], int]) -> None:
    """Benches and pipe warmers go with the copy of their glory hole."""
    for row in made:
        if row.station_id is not None:
            row.station_id = copied[Equipment, row.station_id]
    Equipment.objects.bulk_update(made, ["station_id"])
