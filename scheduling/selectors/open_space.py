"""Open shelf space: firings that have room, of what glass and thickness, and until when pieces are added."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.engine.kiln_work.beside import Levels
from scheduling.engine.spans import Span
from scheduling.models import BookingStatus, Firing, Load, Stand
from scheduling.selectors.shelf_levels import levels_of, measured, stands_of, wash_before, within_cm2
from studios.models import GlassType, Person
from studios.selectors import studios_where

ADDS = "add-to-firing"


@dataclass(frozen=True, kw_only=True)
class OpenFiring:
    """A firing that others may add to: what lies in it, and how much of its shelves is free.

    `thickest_mm` is the thickest that lies there: nothing thicker may come, or the program would change.
    `levels` are the shelves for what comes; where further ones may be laid, they are washed in `wash`.
    """

    firing: Firing
    glass: GlassType
    thickest_mm: float
    stands: tuple[Stand, ...]
    levels: Levels
    wash: Span | None
    free_cm2: int

    @property
    def shelves(self) -> int:
        """How many there are for others: those that are laid, and those for which there is time."""
        return self.levels.laid - self.levels.first + 1 + self.further

    @property
    def further(self) -> int:
        """How many more may be laid, and washed in time."""
        return self.levels.most - self.levels.laid if self.wash is not None else 0

    @property
    def wash_price(self) -> Decimal | None:
        """What a further shelf adds to the cost of the firing; None where no price is set."""
        return self.firing.equipment.shelf_wash_price


def open_firings(person: Person) -> list[OpenFiring]:
    """Those at the studios where the person may add, the next first; a full one is left out."""
    found = (_read(firing) for firing in open_to(person))
    return [one for one in found if one is not None and one.free_cm2 > 0]


def open_firing(person: Person, uid: UUID) -> OpenFiring | None:
    """One of them; None where it is not open to the person."""
    firing = open_to(person).filter(uid=uid).first()
    return _read(firing) if firing is not None else None


def open_to(person: Person) -> QuerySet[Firing]:
    """The firings that are open at the studios where the person may add, also full ones."""
    rows = Firing.objects.filter(
        status=BookingStatus.BOOKED,
        takes_more_until__gt=timezone.now(),
        equipment__studio__in=studios_where(person, ADDS),
    )
    related = rows.select_related("equipment__studio", "occupancy").prefetch_related(
        "loads__glass",
        "loads__stands",
        "equipment__studio__staffed_hours",
        "equipment__studio__closures",
    )
    return related.order_by("takes_more_until", "pk")


def _read(firing: Firing) -> OpenFiring | None:
    loads = list(firing.loads.all())
    if not loads or not measured(firing.equipment):
        return None
    thickest = max(loads, key=lambda load: load.thickness_mm)
    stands = stands_of(loads)
    levels = levels_of(firing, stands)
    wash = wash_before(firing) if levels.most > levels.laid else None
    return OpenFiring(
        firing=firing,
        glass=thickest.glass,
        thickest_mm=thickest.thickness_mm,
        stands=tuple(stands),
        levels=levels,
        wash=wash,
        free_cm2=_free_cm2(firing, loads, (levels.most if wash else levels.laid) - levels.first + 1),
    )


def _free_cm2(firing: Firing, loads: list[Load], shelves: int) -> int:
    """What is left of the shelves for others, and of all that the kiln takes."""
    kiln = firing.equipment
    others = [load for load in loads if load.session_id is None or not firing.shelves_kept]
    left = within_cm2(kiln) * shelves - sum(load.footprint_cm2 for load in others)
    return max(0, min(left, kiln.capacity_cm2 - sum(load.footprint_cm2 for load in loads)))
