"""What is in cylinders, tanks and pots, from their last refill before a moment on: rows to engine records."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence

from django.db.models import OuterRef, Q, Subquery

from scheduling.engine.booked import Draws
from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.records import Apparatus, ChargePlan, Kind, PotRecord, Store, Use
from scheduling.engine.stores import glass_drawn
from scheduling.models import BookingStatus, Charge, Occupancy, Refill, SupplyUse
from studios.models import Pot, Supply, SupplyKind

Refills = Mapping[int, tuple[tuple[int, float], ...]]


def stores_of(
    supplies: Iterable[Supply], begin: int, drawn: Mapping[int, Draws] | None = None
) -> dict[int, Store]:
    """The stores of those supplies that have a content, with all that is drawn since the last refill.

    Everything booked after it is read, however far ahead: what is left at the next refill counts. `drawn`:
    where that has been read already.
    """
    stored = [supply for supply in supplies if supply.content is not None]
    refills = refills_of(stored, begin)
    uses: Mapping[int, Sequence[Use]] = _uses(refills) if drawn is None else drawn
    return {
        supply.pk: Store(
            name=supply.name,
            unit=supply.content_unit,
            full=supply.content or 0.0,
            floor=supply.floor,
            per_min=SupplyKind(supply.kind).content_per_min,
            refills=refills.get(supply.pk, ()),
            uses=uses.get(supply.pk, ()),
            change_over=supply.change_over,
        )
        for supply in stored
    }


def refills_of(supplies: Iterable[Supply], begin: int) -> Refills:
    """For each of some supplies its last refill before a minute, and all after that."""
    stored = [supply for supply in supplies if supply.content is not None]
    if not stored:
        return {}
    known = Refill.objects.filter(supply=OuterRef("supply"), at__lte=moment(begin)).order_by("-at")
    since = Q(at__gt=moment(begin)) | Q(at=Subquery(known.values("at")[:1]))
    rows = Refill.objects.filter(since, supply__in=stored).order_by("at")
    found = rows.values_list("supply_id", "at", "content_after")
    return _since(((key, floor_minutes(at), content) for key, at, content in found), begin)


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
    columns = ("supply_id", "starts_at", "ends_at", "amount", "occupancy__equipment__name", "occupancy_id")
    found: dict[int, list[Use]] = defaultdict(list)
    for supply, since, until, amount, name, occupancy in rows.values_list(*columns):
        span = floor_minutes(since), ceil_minutes(until)
        found[supply].append(Use(span=span, amount=amount, held_by=name, occupancy_id=occupancy))
    return found


def pots_of(
    apparatus: Iterable[Apparatus], begin: int, drawn: Mapping[int, Sequence[Use]] | None = None
) -> dict[int, PotRecord]:
    """The pots of furnaces, with what sessions draw from them since the last charge; `drawn` as above."""
    furnaces = [furnace.id for furnace in apparatus if furnace.kind is Kind.FURNACE]
    pots = list(Pot.objects.filter(furnace_id__in=furnaces)) if furnaces else []
    refills = charges_of([pot.furnace_id for pot in pots], begin)
    glass: Mapping[int, Sequence[Use]] = _glass(refills) if drawn is None else drawn
    return {pot.furnace_id: _pot(pot, refills, glass.get(pot.furnace_id, ())) for pot in pots}


def charges_of(furnaces: Collection[int], begin: int) -> Refills:
    """For each of some furnaces its last charge before a minute, and all after that."""
    if not furnaces:
        return {}
    booked = Charge.objects.filter(furnace_id__in=furnaces, status=BookingStatus.BOOKED)
    known = booked.filter(furnace=OuterRef("furnace"), ends_at__lte=moment(begin)).order_by("-ends_at")
    booked = booked.filter(Q(ends_at__gt=moment(begin)) | Q(ends_at=Subquery(known.values("ends_at")[:1])))
    found = booked.order_by("ends_at").values_list("furnace_id", "ends_at", "level_after_kg")
    return _since(((key, ceil_minutes(ends), level) for key, ends, level in found), begin)


def _pot(pot: Pot, refills: Refills, drawn: Sequence[Use]) -> PotRecord:
    store = Store(
        name="pot",
        unit="kg",
        full=pot.capacity_kg,
        floor=pot.floor_kg,
        per_min=1.0,
        refills=refills.get(pot.furnace_id, ()),
        uses=drawn,
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
    columns = ("pk", "equipment_id", "ends_at", "glass_kg", "booking__session__course__name")
    found: dict[int, list[Use]] = defaultdict(list)
    for key, furnace, ends, kg, course in rows.values_list(*columns):
        span = glass_drawn(ceil_minutes(ends))
        found[furnace].append(Use(span=span, amount=kg, held_by=course or "a session", occupancy_id=key))
    return found
