"""Open shelf space: others add pieces to a firing that has room, until its cut-off.

offer (offered_space) --takes_more_until--> add_pieces: glass, program, thickness class, room?
    --> a kiln job of that one load, booked; a further shelf is washed for it
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.kiln_work.bare import flat_piece
from scheduling.engine.kiln_work.beside import GOES_BY, Levels, laid_beside, thickness_class
from scheduling.engine.kiln_work.stood import taken_cm2
from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.packing import Footprint
from scheduling.engine.records import FiringHeld, Lot
from scheduling.engine.spans import Span
from scheduling.errors import NoShelfSpace, NotAllowed, NotYours, Over, PlanGone
from scheduling.models import BookingStatus, Firing, KilnJob, KilnJobStatus, Piece, Session, Stand
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.selectors.loads import load_title
from scheduling.selectors.opening import begun
from scheduling.selectors.shelf_levels import levels_of, shelf_of, stands_of, wash_before
from scheduling.services import audit
from scheduling.services.class_makers import made_in_class
from scheduling.services.firings import join_job_firing
from scheduling.services.kiln_booking import cancel, kilns_of, lock_equipment, require_moulds, to_come
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from scheduling.services.messages import tell
from scheduling.services.offered_space import laid_out
from scheduling.services.shelf_washing import book_wash
from scheduling.services.transactions import one_write
from scheduling.snapshot import SetUp, firing_record, glass_of, horizon_around, lot_of_load, set_up
from scheduling.wording import when
from studios.models import GlassType, Person
from studios.said import said
from studios.selectors import may
from studios.thermal import Recipe, compatible


@one_write
def add_pieces(
    *,
    actor: Person,
    firing: Firing,
    sizes: Sequence[SizeAsked],
    glass: GlassType,
    thickness_mm: float,
    title: str = "",
    note: str = "",
    session: Session | None = None,
) -> KilnJob:
    """Put own pieces into a firing that is open to others: beside those that stand there, as a kiln job of
    that one firing, booked at once. An instructor brings those of a class; who takes part made them.

    Raises NotAllowed, InvalidInput, or NoShelfSpace, whose fact `reason` is one of closed, cut-off, glass,
    thickness-class, thicker, program, full, wash, moulds.
    """
    studio = firing.equipment.studio
    if not may(actor, "add-to-firing", studio):
        raise NotAllowed(
            who=actor.name, what=said("add to a firing"), studio=studio.name, role=said("student")
        )
    moulded = any(size.mould is not None for size in sizes)
    lock_equipment(kilns_of([studio.pk]) if moulded else [firing.equipment_id], jobs=[])
    firing.refresh_from_db()
    _require_open(firing)
    if session is not None:
        title, sizes = made_in_class(actor, session, studio, title, sizes)
    what = {"sizes": sizes, "glass": glass, "thickness_mm": thickness_mm, "note": note}
    job = _asked(actor, firing, title, **what)
    _require_alike(firing, job)
    room = _room(firing, list(job.pieces.select_related("size__mould").order_by("number")))
    held = _with(firing, job, room.footprint_cm2)
    _write(job, firing, held, room)
    _require_moulds(job, firing)
    _tell_hosts(actor, job, firing)
    audit.note(actor=actor, did="add-to-firing", subject=job, studio=studio, said=f"{job.title}: {firing}")
    return job


def _refused(firing: Firing, reason: str, why: str) -> NoShelfSpace:
    return NoShelfSpace(firing=str(firing), why=why, reason=reason)


def _require_open(firing: Firing) -> None:
    """Raises NoShelfSpace."""
    if firing.status != BookingStatus.BOOKED or firing.takes_more_until is None or not laid_out(firing):
        raise _refused(firing, "closed", said("it is not open to others"))
    if begun(firing) or firing.takes_more_until <= timezone.now():
        until = when(firing.takes_more_until, firing.equipment.studio)
        raise _refused(firing, "cut-off", said("pieces were added until {until}", until=until))


def _asked(actor: Person, firing: Firing, title: str, **what: Any) -> KilnJob:
    route, _ = GOES_BY[Recipe(firing.recipe)]
    return ask_for(
        actor=actor,
        title=title.strip() or actor.name,
        route=route.value,
        arrives_at=moment(floor_minutes(timezone.now())),
        studios=[firing.equipment.studio],
        **what,
    )


def _require_alike(firing: Firing, job: KilnJob) -> None:
    """The program stays: one thickness class, nothing thicker, glass that anneals alike.

    Raises NoShelfSpace.
    """
    loads, policy = list(firing.loads.select_related("glass")), firing.equipment.studio.as_policy()
    other = next(
        (load for load in loads if not compatible(glass_of(load.glass), glass_of(job.glass), policy)), None
    )
    if other is not None:
        why = said("{mine} does not anneal as {theirs} does", mine=job.glass.name, theirs=other.glass.name)
        raise _refused(firing, "glass", why)
    thickest = max(load.thickness_mm for load in loads)
    if thickness_class(job.thickness_mm) != thickness_class(thickest):
        raise _refused(
            firing,
            "thickness-class",
            said(
                "pieces of {thick:g} mm go by another program than those of {there:g} mm",
                thick=job.thickness_mm,
                there=thickest,
            ),
        )
    if job.thickness_mm > thickest:
        raise _refused(
            firing,
            "thicker",
            said("the thickest there has {there:g} mm, and nothing thicker may come", there=thickest),
        )


@dataclass(frozen=True, kw_only=True)
class Room:
    """Where pieces come to stand, and what of the shelves they take.

    `further` of them stand on shelves that are not laid yet, and are washed in the hours of `wash`.
    """

    pieces: tuple[Piece, ...]
    stands: tuple[StandPlanned, ...]
    footprint_cm2: int
    further: int
    wash: Span | None


def _room(firing: Firing, pieces: Sequence[Piece]) -> Room:
    """Beside what stands there on shelves that are laid, else on further ones too. Raises NoShelfSpace."""
    kiln, loads = firing.equipment, list(firing.loads.prefetch_related("stands"))
    shelf = shelf_of(kiln)
    feet = [_foot(piece, firing) for piece in pieces]
    needed = taken_cm2(feet, shelf.spacing_mm)
    if needed > kiln.capacity_cm2 - sum(load.footprint_cm2 for load in loads):
        raise _refused(firing, "full", said("its shelves have no room for all of them"))
    stands = stands_of(loads)
    levels = levels_of(firing, stands)
    found = laid_beside([_standing(stand) for stand in stands], feet, shelf, levels)
    if found is None:
        raise _refused(firing, "full", said("its shelves have no room for all of them"))
    further = sum(stand.level > levels.laid for stand in found)
    return Room(
        pieces=tuple(pieces),
        stands=found,
        footprint_cm2=needed,
        further=further,
        wash=_wash(firing, levels) if further else None,
    )


def _wash(firing: Firing, levels: Levels) -> Span:
    """When the further shelves are washed. Raises NoShelfSpace."""
    span = wash_before(firing)
    if span is not None:
        return span
    if levels.laid < levels.first:
        why = said("no hour is left in which a shelf for others could be washed, and dry before it is loaded")
    else:
        why = said(
            "the shelves that are laid have no room for all of them, and no hour is left in which a further "
            "one could be washed, and dry before it is loaded"
        )
    raise _refused(firing, "wash", why)


def _foot(piece: Piece, firing: Firing) -> Footprint:
    """A piece as the shelf sees it; what sinks into a mould takes a mould of its own."""
    size = piece.size
    if size is None:
        raise ValueError("a piece of a kiln job has its size")
    sinks = Recipe(firing.recipe) in {Recipe.SLUMP, Recipe.KILN_CAST}
    lies = size.mould if sinks and size.mould is not None else size
    return Footprint(length_mm=lies.length_mm, width_mm=lies.width_mm, round=lies.round)


def _standing(stand: Stand) -> StandPlanned:
    return StandPlanned(
        piece=stand.piece_id,
        level=stand.level or 1,
        x_mm=stand.x_mm or 0,
        y_mm=stand.y_mm or 0,
        length_mm=stand.length_mm or 0,
        width_mm=stand.width_mm or 0,
        round=stand.round,
    )


def _with(firing: Firing, job: KilnJob, footprint_cm2: int) -> FiringHeld:
    """The firing with the new load in it, by the same program as without. Raises NoShelfSpace."""
    rows = firing.loads.select_related("glass", "session__course", "job").order_by("in_from", "pk")
    lots = tuple(lot_of_load(row) for row in rows)
    new = Lot(
        piece=flat_piece(glass_of(job.glass), job.thickness_mm),
        footprint_cm2=footprint_cm2,
        in_from=lots[0].in_from,
        in_until=lots[0].in_until,
        held_by=job.title,
    )
    found = _found(firing)
    held = run(
        found.studios[firing.equipment.studio_id],
        found.apparatus[firing.equipment_id],
        Recipe(firing.recipe),
        (*lots, new),
        joins=firing_record(firing, lots),
    )
    if isinstance(held, Unrunnable) or [asdict(one) for one in held.plan.segments] != firing.segments:
        raise _refused(firing, "program", said("its program would have to be another"))
    return held


def _found(firing: Firing) -> SetUp:
    return set_up([firing.equipment.studio_id], horizon_around(firing.at_hold_at))


def _write(job: KilnJob, firing: Firing, held: FiringHeld, room: Room) -> None:
    _, step = GOES_BY[Recipe(firing.recipe)]
    load = join_job_firing(firing, held, job=job, step=step, pieces=len(room.pieces))
    Stand.objects.bulk_create(
        Stand(load=load, **{**asdict(stand), "piece": room.pieces[stand.piece]}) for stand in room.stands
    )
    if room.wash is not None:
        book_wash(load, room.wash, pieces=room.further)
    job.status, job.ready_at = KilnJobStatus.BOOKED, firing.occupancy.ends_at
    job.save(update_fields=["status", "ready_at"])


def _require_moulds(job: KilnJob, firing: Firing) -> None:
    """Raises NoShelfSpace."""
    try:
        require_moulds(job)
    except PlanGone as gone:
        raise _refused(firing, "moulds", said("there are too few moulds")) from gone


def _tell_hosts(actor: Person, job: KilnJob, firing: Firing) -> None:
    """Whoever has a load in it hears that something came beside it."""
    loads = firing.loads.exclude(job=job).select_related(
        "owner", "session__course", "session__instructor", "job"
    )
    hosts = {load.session.instructor if load.session else load.owner: load for load in loads}
    hosts.pop(actor, None)
    for person, load in hosts.items():
        tell(
            person=person,
            subject=said("Added to your firing: {what}", what=load_title(load)),
            body=said(
                "{who} has added pieces ({count}) to the firing in {kiln} that is loaded at {when}.",
                who=actor.name,
                count=job.pieces.count(),
                kiln=firing.equipment.name,
                when=when(firing.occupancy.starts_at, firing.equipment.studio),
            ),
            key=f"added:{job.uid}",
        )


@one_write
def leave(*, actor: Person, job: KilnJob) -> KilnJob:
    """Take what was added to somebody's firing out again, before its loading begins.

    Raises NotYours or Over.
    """
    if not minds_job(actor, job):
        raise NotYours(what=job.title)
    if not to_come(job):
        raise Over(what=job.title, why=said("is in no firing that has not begun"))
    return cancel(actor=actor, job=job)
