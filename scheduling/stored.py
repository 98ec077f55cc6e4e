"""What is in cylinders, tanks and pots, from their last refill before a moment on: rows to engine records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import OuterRef, Q, Subquery

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.records import Apparatus, ChargePlan, Kind, PotRecord, Store, Use
from scheduling.engine.stores import glass_drawn
from scheduling.models import BookingStatus, Charge, Occupancy, Refill, SupplyUse
from studios.models import Pot, Supply, SupplyKind

Refills = Mapping[int, tuple[tuple[int, float], ...]]


def stores_of(supplies: Iterable[Supply], begin: int) -> dict[int, Store]:
    """The stores of those supplies that have a content, with all that is drawn since the last refill.

    Everything booked after it is read, however far ahead: what is left at the next refill counts.
    """
    stored = [supply for supply in supplies if supply.content is not None]
    if not stored:
        return {}
    known = Refill.objects.filter(supply=OuterRef("supply"), at__lte=moment(begin)).order_by("-at")
    since = Q(at__gt=moment(begin)) | Q(at=Subquery(known.values("at")[:1]))
    rows = Refill.objects.filter(since, supply__in=stored).order_by("at")
    refills = _since(((r.supply_id, floor_minutes(r.at), r.content_after) for r in rows), begin)
    uses = _uses(refills)
    return {
        supply.pk: Store(
            name=supply.name,
            unit=supply.content_unit,
            full=supply.content or 0.0,
            floor=supply.floor,
            per_min=SupplyKind(supply.kind).content_per_min,
            refills=refills.get(supply.pk, ()),
            uses=tuple(uses.get(supply.pk, ())),
            change_over=supply.change_over,
        )
        for supply in stored
    }


def _since(rows: Iterable[tuple[int, int, float]], begin: int) -> Refills:
    """For each store its last refill before a minute, and all after that; in order of time."""
    found: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for key, minute, content in rows:
        if minute <= begin:
            found[key].clear()
        found[key].append((minute, content))
    return {key: tuple(each) for key, each in found.items()}


def _uses(refills: Refills) -> dict[int, list[Use]]:
    """What is drawn from each supply since it was known."""
    if not refills:
        return {}
    first = moment(min(each[0][0] for each in refills.values()))
    rows = SupplyUse.objects.filter(supply_id__in=refills, ends_at__gt=first)
    found: dict[int, list[Use]] = defaultdict(list)
    for row in rows.select_related("occupancy__equipment").order_by("starts_at", "pk"):
        found[row.supply_id].append(use_of(row))
    return found


def use_of(row: SupplyUse) -> Use:
    """A draw as the engine sees it."""
    return Use(
        span=(floor_minutes(row.starts_at), ceil_minutes(row.ends_at)),
        amount=row.amount,
        held_by=row.occupancy.equipment.name,
        occupancy_id=row.occupancy_id,
    )


def pots_of(apparatus: Iterable[Apparatus], begin: int) -> dict[int, PotRecord]:
    """The pots of furnaces, with what sessions draw from them since the last charge."""
    furnaces = [furnace for furnace in apparatus if furnace.kind is Kind.FURNACE]
    pots = list(Pot.objects.filter(furnace_id__in=[f.id for f in furnaces])) if furnaces else []
    if not pots:
        return {}
    booked = Charge.objects.filter(
        furnace_id__in=[pot.furnace_id for pot in pots], status=BookingStatus.BOOKED
    )
    known = booked.filter(furnace=OuterRef("furnace"), ends_at__lte=moment(begin)).order_by("-ends_at")
    booked = booked.filter(Q(ends_at__gt=moment(begin)) | Q(ends_at=Subquery(known.values("ends_at")[:1])))
    charges = ((c.furnace_id, ceil_minutes(c.ends_at), c.level_after_kg) for c in booked.order_by("ends_at"))
    refills = _since(charges, begin)
    drawn = _glass(refills)
    return {pot.furnace_id: _pot(pot, refills, drawn.get(pot.furnace_id, ())) for pot in pots}


def _pot(pot: Pot, refills: Refills, drawn: Sequence[Use]) -> PotRecord:
    store = Store(
        name="pot",
        unit="kg",
        full=pot.capacity_kg,
        floor=pot.floor_kg,
        per_min=1.0,
        refills=refills.get(pot.furnace_id, ()),
        uses=tuple(drawn),
    )
    return PotRecord(store=store, plan=plan_of(pot))


def plan_of(pot: Pot) -> ChargePlan:
    """How a pot is charged."""
    return ChargePlan(
        turn_up_min=pot.turn_up_min,
        charges=pot.charges,
        charge_min=pot.charge_min,
        gap_min=pot.gap_min,
        fining_min=pot.fining_min,
        coming_down_min=pot.coming_down_min,
        charging_c=pot.charging_c,
    )


def _glass(refills: Refills) -> dict[int, list[Use]]:
    """What each session has drawn by its end."""
    if not refills:
        return {}
    first = moment(min(each[0][0] for each in refills.values()))
    rows = Occupancy.objects.filter(equipment_id__in=refills, glass_kg__gt=0, ends_at__gt=first)
    found: dict[int, list[Use]] = defaultdict(list)
    for row in rows.select_related("booking__session__course").order_by("ends_at", "pk"):
        session = getattr(row.booking, "session", None)
        found[row.equipment_id].append(
            Use(
                span=glass_drawn(ceil_minutes(row.ends_at)),
                amount=row.glass_kg,
                held_by=session.course.name if session else "a session",
                occupancy_id=row.pk,
            )
        )
    return found
