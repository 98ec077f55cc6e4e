"""Open shelf space: firings that have room, of what glass and thickness, and until when pieces are added."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, Firing, Load, Stand
from studios.models import Equipment, GlassType, Person
from studios.selectors import studios_where

ADDS = "add-to-firing"


@dataclass(frozen=True, kw_only=True)
class OpenFiring:
    """A firing that others may add to: what lies in it, and how much of its shelves is free.

    `thickest_mm` is the thickest that lies there: nothing thicker may come, or the program would change.
    """

    firing: Firing
    glass: GlassType
    thickest_mm: float
    stands: tuple[Stand, ...]
    shelves: int
    free_cm2: int


def open_firings(person: Person) -> list[OpenFiring]:
    """Those at the studios where the person may add, the next first; a full one is left out."""
    found = (_read(firing) for firing in _open_to(person))
    return [one for one in found if one is not None and one.free_cm2 > 0]


def open_firing(person: Person, uid: UUID) -> OpenFiring | None:
    """One of them; None where it is not open to the person."""
    firing = _open_to(person).filter(uid=uid).first()
    return _read(firing) if firing is not None else None


def _open_to(person: Person) -> QuerySet[Firing]:
    rows = Firing.objects.filter(
        status=BookingStatus.BOOKED,
        takes_more_until__gt=timezone.now(),
        equipment__studio__in=studios_where(person, ADDS),
    )
    related = rows.select_related("equipment__studio").prefetch_related("loads__glass", "loads__stands")
    return related.order_by("takes_more_until", "pk")


def _read(firing: Firing) -> OpenFiring | None:
    kiln, loads = firing.equipment, list(firing.loads.all())
    if not loads or not kiln.shelf_length_mm or not kiln.shelf_width_mm:
        return None
    thickest = max(loads, key=lambda load: load.thickness_mm)
    stands = tuple(stand for load in loads for stand in load.stands.all() if stand.level is not None)
    shelves = max((stand.level or 1 for stand in stands), default=1)
    return OpenFiring(
        firing=firing,
        glass=thickest.glass,
        thickest_mm=thickest.thickness_mm,
        stands=stands,
        shelves=shelves,
        free_cm2=max(0, _within_mm2(kiln) * shelves // 100 - _taken_cm2(loads)),
    )


def _within_mm2(kiln: Equipment) -> int:
    """What of one shelf lies within its margin."""
    margin = 2 * kiln.shelf_margin_mm
    return max(0, (kiln.shelf_length_mm or 0) - margin) * max(0, (kiln.shelf_width_mm or 0) - margin)


def _taken_cm2(loads: Sequence[Load]) -> int:
    return sum(load.footprint_cm2 for load in loads)
