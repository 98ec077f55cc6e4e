"""Writing what is held: occupancies, their phases and draws, and the heat that neighbours lend each other."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import QuerySet

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.heat import COLD, HOT_STATIONS, has_record, hot_station, lead_min
from scheduling.engine.kept_hot import worth_keeping
from scheduling.engine.records import Apparatus, Held, Kind
from scheduling.engine.spans import Span
from scheduling.engine.stations import bench
from scheduling.engine.world import World
from scheduling.models import Booking, Charge, Firing, Occupancy, OccupancyPhase, Outage, Session, SupplyUse
from studios.models import SupplyKind


def write_occupancy(
    held: Held,
    *,
    booking: Booking | None = None,
    firing: Firing | None = None,
    charge: Charge | None = None,
) -> Occupancy:
    """Store one piece of equipment held, with its phases and draws."""
    occupancy = Occupancy.objects.create(booking=booking, firing=firing, charge=charge, **_spans(held))
    _write_parts(occupancy, held)
    return occupancy


def rewrite_occupancy(occupancy: Occupancy, held: Held) -> None:
    """Replace what an occupancy holds; the old phases and draws go before the new ones come.

    The people of a class stay in its room, whatever is lit when.
    """
    occupancy.phases.all().delete()
    occupancy.supply_uses.exclude(supply__kind=SupplyKind.PEOPLE).delete()
    for name, value in _spans(held).items():
        setattr(occupancy, name, value)
    occupancy.save()
    _write_parts(occupancy, held)


def _spans(held: Held) -> dict[str, object]:
    return {
        "equipment_id": held.apparatus_id,
        "place": held.place,
        "starts_at": moment(held.span[0]),
        "ends_at": moment(held.span[1]),
        "exclusive_from": moment(held.exclusive[0]),
        "exclusive_to": moment(held.exclusive[1]),
        "glass_kg": held.glass_kg,
    }


def _write_parts(occupancy: Occupancy, held: Held) -> None:
    OccupancyPhase.objects.bulk_create(
        OccupancyPhase(
            occupancy=occupancy,
            kind=phase.kind.value,
            starts_at=moment(phase.span[0]),
            ends_at=moment(phase.span[1]),
            from_c=phase.from_c,
            to_c=phase.to_c,
            toward_c=phase.toward_c,
            tau_min=phase.tau_min,
        )
        for phase in held.phases
    )
    SupplyUse.objects.bulk_create(
        SupplyUse(
            supply_id=supply_id,
            occupancy=occupancy,
            starts_at=moment(use.span[0]),
            ends_at=moment(use.span[1]),
            amount=use.amount,
        )
        for supply_id, use in held.draws
    )


def hot_parts(world: World, equipment_ids: Iterable[int]) -> list[Apparatus]:
    """The glory holes and pipe warmers among what is held."""
    parts = (world.apparatus[key] for key in equipment_ids if key in world.apparatus)
    return [apparatus for apparatus in parts if apparatus.kind in HOT_STATIONS]


def make_way(world: World, hot: Iterable[Apparatus], core: Span, kept: Collection[int] = ()) -> None:
    """Before a session is written: what follows at its hot stations finds them warm, and is lit later.

    Occupancies that are `kept` hot stay so from its end on.
    """
    for apparatus in hot:
        after = next_at(apparatus.id, core[1])
        if after is not None:
            before = Before(worked_until=core[1], free_from=core[1])
            refit(world, after, before, keep_hot=after.pk in kept)


def share_heat(world: World, hot: Iterable[Apparatus], core: Span) -> list[Occupancy]:
    """After a session is written or taken away, draw anew what its neighbours heat up and cool down.

    Returns the occupancies that follow and now find too little room to heat up: they must be kept hot.
    """
    cramped = []
    for apparatus in hot:
        own = Occupancy.objects.filter(equipment_id=apparatus.id, exclusive_to=moment(core[1])).first()
        after, before = next_at(apparatus.id, core[1]), _before(apparatus.id, core[0])
        for occupancy in (after, own, before):
            if occupancy is None:
                continue
            roomy = refit_anew(world, occupancy)
            cramped.extend([occupancy] if occupancy is after and not roomy else [])
    return cramped


@dataclass(frozen=True, kw_only=True)
class Before:
    """When a hot station last worked (None: nothing of that heat is left), and since when it is free."""

    worked_until: int | None
    free_from: int | None


def refit(world: World, occupancy: Occupancy, before: Before, *, keep_hot: bool = True) -> bool:
    """Lay a hot station's occupancy and its bench's anew; False when there is too little room to heat up.

    One whose thermal record is gone stays as it stands. What is kept hot stays so in the hours that it
    holds now, where that still takes less than heating it again.
    """
    apparatus = world.apparatus[occupancy.equipment_id]
    session = occupancy.booking.session if occupancy.booking else None
    if session is None or not has_record(apparatus):
        return True
    core = (floor_minutes(session.starts_at), ceil_minutes(session.ends_at))
    gap = COLD if before.worked_until is None else min(core[0] - before.worked_until, COLD)
    room = None if before.free_from is None else core[0] - before.free_from
    after = next_at(apparatus.id, core[1])
    stays_hot = keep_hot and _held_since(occupancy, before) and worth_keeping(apparatus, gap, core[0])
    held = hot_station(
        apparatus,
        core=core,
        gap_min=gap,
        room_min=room,
        keep_hot=stays_hot,
        until=floor_minutes(after.exclusive_from) if after else None,
        title=session.course.name,
    )
    rewrite_occupancy(occupancy, held)
    _refit_benches(world, occupancy, core, core[0] - held.exclusive[0])
    return stays_hot or room is None or lead_min(apparatus, gap, core[0]) <= room


def refit_anew(world: World, occupancy: Occupancy) -> bool:
    """As `refit`, after whatever its station does before it now."""
    return refit(world, occupancy, _what_came_before(world, occupancy))


def refit_across(world: World, equipment_id: int, outage: Span) -> None:
    """What follows an outage of a hot station finds it cold, and what went before it cools undisturbed.

    Where the outage is withdrawn, what follows is warm again from what went before.
    """
    after, before = next_at(equipment_id, outage[1]), _before(equipment_id, outage[0])
    for row in (after, before):
        session = row.booking.session if row is not None and row.booking is not None else None
        if row is not None and session is not None and not _meets(session, outage):
            refit_anew(world, row)


def _meets(session: Session, span: Span) -> bool:
    return session.starts_at < moment(span[1]) and session.ends_at > moment(span[0])


def _held_since(occupancy: Occupancy, before: Before) -> bool:
    """Whether it is held already from the moment its station last worked."""
    worked = before.worked_until
    return worked is not None and floor_minutes(occupancy.exclusive_from) <= worked


def _refit_benches(world: World, hole: Occupancy, core: Span, lead: int) -> None:
    benches = [a.id for a in world.companions(world.apparatus[hole.equipment_id]) if a.kind is Kind.BENCH]
    for row in Occupancy.objects.filter(booking=hole.booking, equipment_id__in=benches):
        exclusive = (floor_minutes(row.exclusive_from), ceil_minutes(row.exclusive_to))
        apparatus = world.apparatus[row.equipment_id]
        title = hole.booking.session.course.name if hole.booking else ""
        held = bench(apparatus, core=core, exclusive=exclusive, lead_min=lead, title=title)
        rewrite_occupancy(row, held)


def _rows(equipment_id: int) -> QuerySet[Occupancy]:
    return Occupancy.objects.filter(equipment_id=equipment_id).select_related("booking__session__course")


def next_at(equipment_id: int, core_end: int) -> Occupancy | None:
    """What uses a piece of equipment next after a session there has ended."""
    later = _rows(equipment_id).filter(exclusive_to__gt=moment(core_end))
    return later.order_by("exclusive_from").first()


def _before(equipment_id: int, core_start: int) -> Occupancy | None:
    earlier = _rows(equipment_id).filter(exclusive_to__lte=moment(core_start))
    return earlier.order_by("-exclusive_to").first()


def _what_came_before(world: World, occupancy: Occupancy) -> Before:
    """What a hot station did before: an outage since then leaves it cold, and nothing is lit in the past."""
    session = occupancy.booking.session if occupancy.booking else None
    if session is None:
        return Before(worked_until=None, free_from=None)
    before = _before(occupancy.equipment_id, floor_minutes(session.starts_at))
    outages = Outage.objects.filter(equipment_id=occupancy.equipment_id, ends_at__lte=session.starts_at)
    out_until = outages.order_by("-ends_at").values_list("ends_at", flat=True).first()
    worked = ceil_minutes(before.exclusive_to) if before else None
    out = ceil_minutes(out_until) if out_until else None
    lit = floor_minutes(occupancy.exclusive_from)
    # What was lit before now is hot; only what is yet to be lit is bound to begin from now on.
    ends = [end for end in (worked, out, world.now if lit >= world.now else None) if end is not None]
    broken = out is not None and worked is not None and out >= worked
    return Before(worked_until=None if broken else worked, free_from=max(ends, default=None))
