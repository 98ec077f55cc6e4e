"""Open shelf space: others add pieces to a firing that has room, until its cut-off.

offer --takes_more_until--> add_pieces: glass, program, thickness class, room? --> a job of that one load
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.kiln_work.bare import flat_piece
from scheduling.engine.kiln_work.beside import laid_beside, thickness_class
from scheduling.engine.kiln_work.routes import RouteName
from scheduling.engine.kiln_work.stood import with_spacing_mm2
from scheduling.engine.kilns import Unrunnable, run
from scheduling.engine.packing import Footprint, Shelf
from scheduling.engine.records import FiringHeld, Lot
from scheduling.errors import InvalidInput, NoShelfSpace, NotAllowed, NotYours, Over, PlanGone
from scheduling.models import BookingStatus, Firing, KilnJob, KilnJobStatus, Load, Piece, Stand
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.selectors.loads import load_title
from scheduling.services import audit
from scheduling.services.actuals import lock_firing
from scheduling.services.firings import join_job_firing
from scheduling.services.kiln_booking import cancel, kilns_of, lock_equipment, require_moulds, to_come
from scheduling.services.kiln_jobs import SizeAsked, ask_for
from scheduling.services.messages import tell
from scheduling.services.transactions import one_write
from scheduling.snapshot import SetUp, firing_record, glass_of, horizon_around, lot_of_load, set_up
from scheduling.wording import when
from studios.models import GlassType, Person
from studios.said import said
from studios.selectors import may
from studios.thermal import Recipe, compatible

# The route that pieces in one firing go by, and which of its firings that is.
GOES_BY = {
    Recipe.FULL_FUSE: (RouteName.FUSE, 1),
    Recipe.SLUMP: (RouteName.FUSE_SLUMP, 2),
    Recipe.TACK_FUSE: (RouteName.TACK, 1),
    Recipe.FIRE_POLISH: (RouteName.PAINT, 1),
    Recipe.KILN_CAST: (RouteName.CAST, 1),
}


@one_write
def offer(*, actor: Person, firing: Firing, until: dt.datetime | None = None) -> Firing:
    """Open the free room on a firing's shelves to others, until a minute; else until its loading begins.

    Whoever has a load in it may, and whoever books kilns there. Raises NotYours, InvalidInput or Over.
    """
    _take_up(actor, firing)
    begins = firing.occupancy.starts_at
    cut_off = begins if until is None else moment(floor_minutes(until))
    if not timezone.now() < cut_off <= begins:
        raise InvalidInput(
            field="until",
            problem=said(
                "Pieces are added from now until loading begins, {when}, at the latest.",
                when=when(begins, firing.equipment.studio),
            ),
        )
    if not _laid_out(firing):
        raise Over(what=str(firing), why=said("has loads whose places on the shelves are not known"))
    _open(actor, firing, cut_off)
    return firing


@one_write
def withdraw(*, actor: Person, firing: Firing) -> Firing:
    """Nobody adds anything more; what was added stays. Raises NotYours or Over."""
    _take_up(actor, firing)
    if firing.takes_more_until is None:
        raise Over(what=str(firing), why=said("is not open to others"))
    _open(actor, firing, None)
    return firing


def _open(actor: Person, firing: Firing, until: dt.datetime | None) -> None:
    firing.takes_more_until = until
    firing.save(update_fields=["takes_more_until"])
    studio, did = firing.equipment.studio, "withdraw-space" if until is None else "offer-space"
    noted = str(firing) if until is None else f"{firing}, until {when(until, studio)}"
    audit.note(actor=actor, did=did, subject=firing, studio=studio, said=noted)


def _take_up(actor: Person, firing: Firing) -> None:
    """Raises NotYours or Over."""
    studio = firing.equipment.studio
    own = firing.loads.filter(owner=actor).exists()
    if not own and not may(actor, "book-kiln-job", studio):
        raise NotYours(what=str(firing))
    lock_firing(firing)
    firing.refresh_from_db()
    if firing.status != BookingStatus.BOOKED:
        raise Over(what=str(firing), why=said("is called off"))
    if firing.occupancy.starts_at <= timezone.now() or firing.actuals.exists():
        raise Over(what=str(firing), why=said("has begun"))


def _laid_out(firing: Firing) -> bool:
    """Whether it is known where everything in a kiln stands."""
    shelves = firing.equipment.shelf_length_mm and firing.equipment.shelf_width_mm
    return bool(shelves) and not firing.loads.exclude(stands__level__isnull=False).exists()


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
) -> KilnJob:
    """Put own pieces into a firing that is open to others: beside those that stand there, as a kiln job of
    that one firing, booked at once.

    Raises NotAllowed, InvalidInput, or NoShelfSpace, whose fact `reason` is one of closed, cut-off, glass,
    thickness-class, thicker, program, full, moulds.
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
    if firing.status != BookingStatus.BOOKED or firing.takes_more_until is None or not _laid_out(firing):
        raise _refused(firing, "closed", said("it is not open to others"))
    begun = firing.actuals.exists() or firing.occupancy.starts_at <= timezone.now()
    if begun or firing.takes_more_until <= timezone.now():
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
    """Where pieces come to stand, and what of the shelves they take."""

    pieces: tuple[Piece, ...]
    stands: tuple[StandPlanned, ...]
    footprint_cm2: int


def _room(firing: Firing, pieces: Sequence[Piece]) -> Room:
    """Beside what stands there, on the shelves that are laid out. Raises NoShelfSpace."""
    kiln = firing.equipment
    shelf = Shelf(
        length_mm=kiln.shelf_length_mm or 0,
        width_mm=kiln.shelf_width_mm or 0,
        margin_mm=kiln.shelf_margin_mm,
        spacing_mm=kiln.piece_spacing_mm,
    )
    stands = list(Stand.objects.filter(load__firing=firing, level__isnull=False))
    levels = max(stand.level or 1 for stand in stands)
    feet = [_foot(piece, firing) for piece in pieces]
    found = laid_beside([_standing(stand) for stand in stands], feet, shelf, levels)
    free = kiln.capacity_cm2 - sum(load.footprint_cm2 for load in firing.loads.all())
    if found is None or free <= 0:
        raise _refused(firing, "full", said("its shelves have no room for all of them"))
    needed = math.ceil(sum(with_spacing_mm2(foot, shelf.spacing_mm) for foot in feet) / 100)
    return Room(pieces=tuple(pieces), stands=found, footprint_cm2=min(needed, free))


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
    loads = firing.loads.exclude(job=job).select_related("owner", "session__course", "job")
    hosts: dict[Person, Load] = {load.owner: load for load in loads if load.owner != actor}
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
