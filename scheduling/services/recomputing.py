"""A firing is worked out anew from its plan and all that is recorded of it, and takes the hours it comes to.

    loads, program ──> Planned ──┐
    standing actuals ──> Happened ┴─ engine.actual.ran ──> Ran ──> Firing, loads, occupancy, draws

The database refuses that one piece of equipment is held twice. So what a firing holds alone ends where the
next use begins; when it is cool and unloaded stands on the firing as it is, and the next use finds it hot.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from django.db.models import Q
from django.utils import timezone

from scheduling.engine.actual import Happened, Planned, Ran, What, ran
from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.kilns import program
from scheduling.engine.records import Apparatus, Held, Lot
from scheduling.errors import NoRecord, OutOfOrder
from scheduling.models import Actual, ActualKind, Firing, Load, Occupancy
from scheduling.services.holding import rewrite_occupancy
from scheduling.snapshot import horizon_around, lot_of_load, set_up
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.said import said
from studios.thermal import Recipe

# What moves the moments that a plan begins with.
MOVES = (ActualKind.LIT, ActualKind.LAST_IN, ActualKind.SOAK_STARTED)


@dataclass(frozen=True, kw_only=True)
class Recomputed:
    """What a firing comes to, and whether it is unloaded at another time than before."""

    ran: Ran
    moved: bool


def recompute(firing: Firing) -> Recomputed:
    """Take over what a firing comes to by all that stands recorded of it; its equipment is locked.

    Raises NoRecord or OutOfOrder.
    """
    before = _facts(firing)
    _keep_wait(firing)
    planned = _planned(firing)
    came_to = ran(planned, _recorded(firing))
    _fill(firing, came_to)
    _move_loads(firing, planned, came_to)
    held = _beside_others(firing, came_to.held)
    rewrite_occupancy(firing.occupancy, held)
    let_reach(firing.equipment_id)
    if before != _facts(firing):
        firing.sequence += 1
    firing.changed_at = timezone.now()
    firing.save()
    return Recomputed(ran=came_to, moved=before[0] != firing.unload_at)


def cautions_of(firing: Firing) -> tuple[str, ...]:
    """What to mind now, by all that stands recorded of a firing; nothing is written."""
    events = _recorded(firing)
    if not events:
        return ()
    try:
        return ran(_planned(firing), events).cautions
    except LehrbookError as error:
        return (str(error),)


def _recorded(firing: Firing) -> list[Happened]:
    standing = firing.actuals.filter(struck_at__isnull=True).order_by("at", "pk")
    return [happened(actual) for actual in standing]


def _facts(firing: Firing) -> tuple[object, ...]:
    return (
        firing.unload_at,
        firing.cool_at,
        firing.at_hold_at,
        firing.last_in_at,
        firing.broken_at,
        firing.opened_at,
        firing.unloaded_at,
    )


def happened(actual: Actual) -> Happened:
    """A record as the engine has it."""
    return Happened(what=What(actual.kind), at=floor_minutes(actual.at), read_c=actual.read_c)


def _planned(firing: Firing) -> Planned:
    """The plan that the records depart from. Raises NoRecord."""
    equipment = firing.equipment
    found = set_up([equipment.studio_id], horizon_around(firing.at_hold_at, timezone.now()))
    apparatus, studio = found.apparatus[equipment.pk], found.studios[equipment.studio_id]
    loads = firing.loads.select_related("glass", "session__course", "job").order_by("in_from", "pk")
    lots = tuple(_planned_lot(load, apparatus, firing) for load in loads)
    ready, last_in = _planned_moments(firing, lots)
    body = apparatus.body_at(ready)
    if body is None:
        raise NoRecord(equipment=equipment.name)
    pieces = tuple(dict.fromkeys(lot.piece for lot in lots))
    plan = program(Recipe(firing.recipe), pieces, body, studio.policy, apparatus.controller_segments)
    return Planned(studio=studio, apparatus=apparatus, plan=plan, lots=lots, ready=ready, last_in=last_in)


def _planned_lot(load: Load, apparatus: Apparatus, firing: Firing) -> Lot:
    """When pieces were to go in: while their class works, or into a kiln when it has ended.

    What is of no class keeps the hours it has; of a kiln job they are those of its plan.
    """
    lot = lot_of_load(load)
    if load.session is None:
        return lot
    begin, end = floor_minutes(load.session.starts_at), ceil_minutes(load.session.ends_at)
    closed = end + apparatus.prepare_min
    kiln = firing.recipe != Recipe.ANNEAL
    return replace(lot, in_from=closed if kiln else begin, in_until=closed if kiln else end)


def _planned_moments(firing: Firing, lots: Iterable[Lot]) -> tuple[int, int]:
    """At hold and last piece in (a kiln: door closed and program begun), as they were planned.

    The firing has them itself until something is recorded that moves them.
    """
    of_a_job = firing.loads.filter(job__isnull=False).exists()
    if not of_a_job and not firing.actuals.filter(kind__in=MOVES).exists():
        return floor_minutes(firing.at_hold_at), floor_minutes(firing.last_in_at)
    ready, last_in = min(lot.in_from for lot in lots), max(lot.in_until for lot in lots)
    return ready, (last_in if firing.recipe == Recipe.ANNEAL else ready) + _wait(firing)


def _wait(firing: Firing) -> int:
    """How long it was to wait before its program; what is asked begins so much before minute 0.

    A kiln waits from when its door is closed, an annealer is held on after the last piece for a class that
    is called off then.
    """
    return -round(min(0, firing.asked[0][0])) if firing.asked else 0


def _keep_wait(firing: Firing) -> None:
    """Before the moments of a kiln move, what is asked of it is begun with the wait that was planned."""
    kiln, moves = firing.recipe != Recipe.ANNEAL, firing.actuals.filter(kind__in=MOVES)
    waits = floor_minutes(firing.last_in_at) - floor_minutes(firing.at_hold_at)
    if kiln and waits and firing.asked and moves.count() == 1 and not _wait(firing):
        firing.asked = [[float(-waits), firing.asked[0][1]], *firing.asked]


def _fill(firing: Firing, came_to: Ran) -> None:
    firing.at_hold_at, firing.last_in_at = moment(came_to.ready), moment(came_to.last_in)
    firing.below_strain_at = moment(came_to.below_strain)
    firing.cool_at, firing.unload_at = moment(came_to.cool), moment(came_to.unload)
    firing.energy_kwh = came_to.energy_kwh
    for name in ("broken", "opened", "unloaded"):
        minute = getattr(came_to, name)
        setattr(firing, f"{name}_at", None if minute is None else moment(minute))


def _move_loads(firing: Firing, planned: Planned, came_to: Ran) -> None:
    """The class that worked last worked until the last piece was in; nothing goes in after that.

    The loads of a kiln job keep the hours of their plan, so that a struck record gives it back.
    """
    if not firing.actuals.filter(kind__in=MOVES).exists():
        return
    latest = max(lot.in_until for lot in planned.lots)
    last = latest if came_to.last_in == planned.last_in else came_to.last_in
    loads = firing.loads.select_related("glass", "session__course").order_by("in_from", "pk")
    for load, lot in zip(loads, planned.lots, strict=True):
        if load.job_id is not None:
            continue
        until = last if lot.in_until == latest else min(lot.in_until, came_to.last_in)
        if planned.kiln:
            begin = until = came_to.ready
        else:
            begin = min(lot.in_from, until)
        if (load.in_from, load.in_until) != (moment(begin), moment(until)):
            load.in_from, load.in_until = moment(begin), moment(until)
            load.save(update_fields=["in_from", "in_until"])


def _beside_others(firing: Firing, held: Held) -> Held:
    """What is held alone ends where the next use begins, and begins where the one before has ended."""
    others = Occupancy.objects.filter(equipment_id=firing.equipment_id).exclude(firing=firing)
    mine = firing.occupancy.exclusive_from
    before = others.filter(exclusive_from__lt=mine).order_by("-exclusive_to").first()
    after = others.filter(exclusive_from__gte=mine).order_by("exclusive_from").first()
    begin = max(held.span[0], ceil_minutes(before.exclusive_to) if before else held.span[0])
    end = min(held.span[1], floor_minutes(after.exclusive_from) if after else held.span[1])
    if begin >= end:
        name, other = firing.equipment.name, before if after is None else after
        studio = firing.equipment.studio
        raise OutOfOrder(
            field="at",
            what=said("{name} is another's then", name=name),
            why=said("it is held from {when}", when=when((other or firing.occupancy).exclusive_from, studio)),
        )
    return replace(held, exclusive=(begin, end))


def let_reach(equipment_id: int) -> None:
    """A firing that runs longer than planned holds its equipment again as far as nobody else does.

    What it ran into may have been moved or called off since.
    """
    firings = Occupancy.objects.filter(equipment_id=equipment_id, firing__isnull=False)
    for row in firings.filter(firing__actuals__isnull=False).distinct():
        after = Occupancy.objects.filter(
            Q(equipment_id=equipment_id, exclusive_from__gte=row.exclusive_to), ~Q(pk=row.pk)
        )
        begins = after.order_by("exclusive_from").values_list("exclusive_from", flat=True).first()
        end = row.ends_at if begins is None else min(row.ends_at, begins)
        if end > row.exclusive_to:
            row.exclusive_to = end
            row.save(update_fields=["exclusive_to"])
