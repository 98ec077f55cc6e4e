"""Writing firings: a new one, one that others join, and one that loses a load."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from django.db import transaction
from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.kilns import Unrunnable, run, unlightable
from scheduling.engine.records import FiringHeld, Lot
from scheduling.engine.world import World
from scheduling.errors import NoRecord, OutOfOrder
from scheduling.models import BookingStatus, Firing, KilnJob, Load, Occupancy, Session
from scheduling.services.holding import rewrite_occupancy, write_occupancy
from scheduling.services.messages import tell
from scheduling.services.recomputing import let_reach, recompute
from scheduling.snapshot import firing_record, lot_of_load
from scheduling.wording import when
from studios.said import said
from studios.thermal import Recipe, StressLine


def write_firing(held: FiringHeld, *, session: Session) -> Firing | None:
    """Store a firing with the session's load in it, or add the load to the one that it joins.

    Returns the firing that it joins where that now opens at another time.
    """
    firing = Firing() if held.joins is None else Firing.objects.get(pk=held.joins)
    moved = _fill(firing, held)
    _add_load(firing, held.lots[-1], session)
    if held.joins is None:
        write_occupancy(held.held, firing=firing)
    else:
        rewrite_occupancy(firing.occupancy, held.held)
        moved = _as_recorded(firing, moved=moved)
    return firing if held.joins is not None and moved else None


def write_job_firing(held: FiringHeld, *, job: KilnJob, step: int, pieces: int) -> Load:
    """Store a firing of its own for a load of a kiln job; `step` counts the firings of its route from 1."""
    firing = Firing()
    _fill(firing, held)
    load = add_job_load(firing, held.lots[-1], job=job, step=step, pieces=pieces)
    write_occupancy(held.held, firing=firing)
    return load


def join_job_firing(firing: Firing, held: FiringHeld, *, job: KilnJob, step: int, pieces: int) -> Load:
    """Put pieces of a kiln job into a firing of others, which runs as it did."""
    _fill(firing, held)
    return add_job_load(firing, held.lots[-1], job=job, step=step, pieces=pieces)


def add_job_load(firing: Firing, lot: Lot, *, job: KilnJob, step: int, pieces: int) -> Load:
    """Put pieces of a kiln job into a firing."""
    return Load.objects.create(
        firing=firing,
        job=job,
        job_step=step,
        owner=job.owner,
        glass=job.glass,
        shape=lot.piece.shape.value,
        thickness_mm=lot.piece.thickness_mm,
        foot_mm=lot.piece.foot_mm,
        pieces=pieces,
        footprint_cm2=lot.footprint_cm2,
        in_from=moment(lot.in_from),
        in_until=moment(lot.in_until),
    )


def _as_recorded(firing: Firing, *, moved: bool) -> bool:
    """What was recorded of a firing holds whatever is put into it or taken out; whether it moves, then."""
    if not firing.actuals.exists():
        return moved
    return recompute(firing).moved or moved


def _fill(firing: Firing, held: FiringHeld) -> bool:
    """Take over what a firing now comes to; returns whether it opens at another time than before."""
    before = (firing.cool_at, firing.unload_at)
    firing.equipment_id = held.held.apparatus_id
    firing.recipe = held.recipe.value
    firing.hold_c = held.hold_c
    firing.at_hold_at = moment(held.at_hold)
    firing.last_in_at = moment(held.last_in)
    firing.cool_at = moment(held.cool)
    firing.unload_at = moment(held.unload)
    firing.below_strain_at = moment(held.below_strain)
    firing.energy_kwh = held.energy_kwh
    _keep_plan(firing, held)
    if firing.pk is not None:
        firing.sequence += 1
    firing.changed_at = timezone.now()
    firing.save()
    return before != (firing.cool_at, firing.unload_at)


def _keep_plan(firing: Firing, held: FiringHeld) -> None:
    """What was asked of the controller, what the equipment makes of it, and the stress that leaves."""
    plan = held.plan
    firing.segments = [asdict(segment) for segment in plan.segments]
    firing.asked = [
        *_held_on(held),
        *([round(minute, 2), round(at_c, 2)] for minute, at_c in plan.asked_tail),
    ]
    firing.lags = [asdict(lag) for lag in plan.lags]
    firing.stress = [_said(line) for line in plan.stress]
    firing.kept_stress_mpa = plan.kept_stress_mpa


def _held_on(held: FiringHeld) -> list[list[float]]:
    """An annealer that was kept at hold for a class that is called off was asked to, since the last piece."""
    idle = held.last_in - max(lot.in_until for lot in held.lots)
    return [[float(-idle), round(held.hold_c, 2)]] if idle > 0 and held.recipe is Recipe.ANNEAL else []


def _said(line: StressLine) -> dict[str, object]:
    """One line of the stress report, as it is stored."""
    return {
        "glass": line.piece.glass.name,
        "shape": line.piece.shape.value,
        "thickness_mm": line.piece.thickest_mm,
        "what": line.what.value,
        "classical_mpa": line.classical_mpa,
        "likely_mpa": line.likely_mpa,
        "permitted_mpa": line.permitted_mpa,
    }


def _add_load(firing: Firing, lot: Lot, session: Session) -> None:
    course = session.course
    Load.objects.create(
        firing=firing,
        session=session,
        owner=session.instructor,
        glass=course.glass,
        shape=course.shape,
        thickness_mm=lot.piece.thickness_mm,
        foot_mm=lot.piece.foot_mm,
        pieces=session.seats * course.pieces_per_seat,
        footprint_cm2=lot.footprint_cm2,
        in_from=moment(lot.in_from),
        in_until=moment(lot.in_until),
    )


@dataclass(frozen=True, kw_only=True)
class TakenOut:
    """What became of a firing that lost a load: whether it opens at another time, and can be lit in time."""

    firing: Firing
    moved: bool
    lightable: bool


def take_out(world: World, load: Load) -> TakenOut:
    """Take a load out of its firing; the firing lives on for the loads that are left, else it ends.

    A firing that is lit stays at hold as it is, and does not soak in the past. Should its new hours meet
    another's, the old ones stay; what was recorded of it holds.
    """
    firing = load.firing
    load.delete()
    lots = tuple(lot_of_load(row) for row in firing.loads.select_related("glass", "session__course", "job"))
    if not lots:
        _end(firing)
        return TakenOut(firing=firing, moved=False, lightable=True)
    held, was = _rerun(world, firing, lots), floor_minutes(firing.occupancy.starts_at)
    moved = _left_recorded(firing, held) if firing.actuals.exists() else _left_planned(firing, held)
    if moved is None or isinstance(held, Unrunnable):
        return TakenOut(firing=firing, moved=bool(moved), lightable=True)
    lightable = was <= world.now or held.held.span[0] == was or not unlightable(world, held)
    return TakenOut(firing=firing, moved=moved, lightable=lightable)


def _left_planned(firing: Firing, held: FiringHeld | Unrunnable) -> bool | None:
    """What is left goes by its plan; whether that moves it. None: the old hours stay."""
    if isinstance(held, Unrunnable) or not _free(firing, held):
        return None
    moved = _fill(firing, held)
    rewrite_occupancy(firing.occupancy, held.held)
    let_reach(firing.equipment_id)
    return moved


def _left_recorded(firing: Firing, held: FiringHeld | Unrunnable) -> bool | None:
    """What is left goes by its plan and all that stands recorded; whether that moves it.

    None: the old hours stay, for nobody's giving back is refused because a record fits no more.
    """
    before = (firing.cool_at, firing.unload_at)
    try:
        with transaction.atomic():
            if isinstance(held, FiringHeld):
                _fill(firing, held)
            recompute(firing)
    except (NoRecord, OutOfOrder):
        firing.refresh_from_db()
        return None
    return before != (firing.cool_at, firing.unload_at)


def _rerun(world: World, firing: Firing, lots: tuple[Lot, ...]) -> FiringHeld | Unrunnable:
    apparatus = world.apparatus[firing.equipment_id]
    lit = floor_minutes(firing.occupancy.starts_at) <= world.now
    return run(
        world.studios[apparatus.studio_id],
        apparatus,
        Recipe(firing.recipe),
        lots,
        joins=firing_record(firing, lots),
        lit_before=world.now if lit else None,
    )


def _free(firing: Firing, held: FiringHeld) -> bool:
    begin, end = (moment(minute) for minute in held.held.exclusive)
    others = Occupancy.objects.filter(equipment_id=firing.equipment_id).exclude(firing=firing)
    return not others.filter(exclusive_from__lt=end, exclusive_to__gt=begin).exists()


def _end(firing: Firing) -> None:
    Occupancy.objects.filter(firing=firing).delete()
    let_reach(firing.equipment_id)
    firing.status = BookingStatus.CANCELLED
    firing.sequence += 1
    firing.changed_at = timezone.now()
    firing.save(update_fields=["status", "sequence", "changed_at"])


def tell_moved(firing: Firing, *, but: Session | None = None) -> None:
    """Whoever has pieces in a firing is told that its end has moved."""
    studio = firing.equipment.studio
    loads = firing.loads.select_related("owner", "session")
    owners = {load.owner for load in loads if but is None or load.session != but}
    for owner in sorted(owners, key=lambda person: person.pk):
        tell(
            person=owner,
            subject=said("Firing moved: {equipment}", equipment=firing.equipment.name),
            body=said(
                "The firing in {equipment} at {studio} is now cool at {when} and unloaded at {when_2}.",
                equipment=firing.equipment.name,
                studio=studio.name,
                when=when(firing.cool_at, studio),
                when_2=when(firing.unload_at, studio),
            ),
        )
