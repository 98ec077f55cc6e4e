"""What the town has for kiln jobs: shelves, more kilns than a feeder carries, few moulds, and some jobs."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import Firing, KilnJob
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from studios.models import EquipmentKind, Mould, Person
from tests.services.kiln_work import second_kiln, with_shelves
from tests.worlds import KILN, Town, add_equipment

FUSED = "fusing-90"
# What is brought comes after the firings that burn as it begins.
COMES_IN = dt.timedelta(days=1)


def build(town: Town) -> None:
    """Three kilns at one studio, one at the other; there are few moulds, and one form holds two pieces."""
    with_shelves(town)
    second_kiln(town)
    shelves = {"shelf_length_mm": 600, "shelf_width_mm": 500}
    facts = {"prepare_min": 45, "clear_min": 30, "capacity_cm2": 3000, "body": KILN, **shelves}
    add_equipment(town, town.flame, "kiln", "kiln 3", shelf_levels=1, draws={"kiln feeder": 5}, **facts)
    add_equipment(town, town.hot_shop, "kiln", "shop kiln", shelf_levels=2, draws={"shop feeder": 5}, **facts)
    Mould.objects.create(studio=town.flame, name="bowl", count=3, length_mm=170, width_mm=170, round=True)
    Mould.objects.create(studio=town.flame, name="trough", count=2, holds=2, length_mm=240, width_mm=160)


def described(town: Town, askers: list[tuple[Person, dict[str, str]]]) -> dict[str, Any]:
    """What clients know of it, and a job of each asker with its pieces."""
    return {
        "fused": FUSED,
        "kiln_studios": [town.flame.slug, town.hot_shop.slug],
        "moulds": [str(mould.uid) for mould in Mould.objects.order_by("pk")],
        "class_firings": [str(uid) for uid in _of_classes().values_list("uid", flat=True)],
        "comes": _comes().isoformat(),
        "jobs": [_described(_asked(town, person), owner) for person, owner in askers],
    }


def _asked(town: Town, person: Person) -> KilnJob:
    return ask_for(
        actor=person,
        title=f"Plates of {person.name}",
        sizes=[SizeAsked(count=3, length_mm=200, width_mm=150)],
        glass=town.glasses[FUSED],
        thickness_mm=6.0,
        route="fuse",
        arrives_at=_comes(),
        studios=[town.flame],
        shares_space=True,
    )


def _of_classes() -> QuerySet[Firing]:
    """Firings to come in which a class lays its pieces."""
    kilns = Firing.objects.filter(equipment__kind=EquipmentKind.KILN, last_in_at__gt=timezone.now())
    return kilns.filter(loads__session__isnull=False).order_by("pk")


def _comes() -> dt.datetime:
    return timezone.now().replace(minute=0, second=0, microsecond=0) + COMES_IN


def _described(job: KilnJob, owner: dict[str, str]) -> dict[str, Any]:
    pieces = [str(uid) for uid in job.pieces.order_by("number").values_list("uid", flat=True)]
    return {"uid": str(job.uid), "owner": owner, "pieces": pieces}
