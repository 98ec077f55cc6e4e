"""Kiln jobs: asked for, changed while nothing is booked, arrived, worked on by hand.

ask_for -> asked --seek, book (kiln_answers, kiln_booking)--> booked --unloaded, handed over--> done
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.kiln_work.routes import RouteName
from scheduling.errors import InvalidInput, NotAllowed, NotYours, Over
from scheduling.models import JobSize, JobStep, KilnAim, KilnJob, KilnJobStatus, Piece, PieceState
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.services import audit
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.labels import write_labelled
from scheduling.services.piece_states import let_go_on, made_ready
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import require_reachable
from scheduling.wording import when
from studios.errors import LehrbookError
from studios.models import GlassType, Mould, Person, Studio
from studios.said import said
from studios.selectors import may
from studios.thermal import Piece as Plate
from studios.thermal import Shape

__all__ = ["SizeAsked", "arrived", "ask_for", "book", "cancel", "change", "step_done"]

LONGEST_TITLE, LONGEST_NOTE, LONGEST_NAME = 80, 200, 80
MOST_PIECES = 500
SHORTEST_MM, LONGEST_MM = 5, 5000
MOST_COLD_MIN = 480


@dataclass(frozen=True, kw_only=True)
class SizeAsked:
    """So many pieces of one size (a round one: its diameter twice), and the mould that each sinks into.

    `makers` are theirs in order, an account or a name; who is not named there, the owner of the job made.
    """

    count: int
    length_mm: int
    width_mm: int
    round: bool = False
    name: str = ""
    mould: Mould | None = None
    makers: tuple[Person | str, ...] = ()


@one_write
def ask_for(  # noqa: PLR0913 - all that is asked of whoever brings pieces
    *,
    actor: Person,
    title: str,
    sizes: Sequence[SizeAsked],
    glass: GlassType,
    thickness_mm: float,
    route: str,
    arrives_at: dt.datetime,
    studios: Iterable[Studio],
    due_at: dt.datetime | None = None,
    aim: str = KilnAim.EARLIEST,
    mixed_with: Iterable[GlassType] = (),
    cold_min_each: int = 0,
    shares_space: bool = False,
    note: str = "",
) -> KilnJob:
    """Ask for pieces to be fired: each gets its label, and nothing is held yet.

    Raises NotAllowed, or InvalidInput that names the field.
    """
    job = KilnJob(
        title=title.strip(),
        owner=actor,
        glass=glass,
        thickness_mm=thickness_mm,
        route=route,
        cold_min_each=cold_min_each,
        arrives_at=arrives_at,
        due_at=due_at,
        aim=aim,
        shares_space=shares_space,
        note=note.strip(),
    )
    where, others = list(dict.fromkeys(studios)), list(dict.fromkeys(mixed_with))
    require_asker(actor, where)
    _require_sense(job, others)
    _require_sizes(sizes, where)
    job.save()
    job.studios.set(where)
    job.mixed_with.set(others)
    _write_sizes(job, sizes, actor)
    _note(actor, job, "ask")
    return job


def require_asker(actor: Person, studios: Sequence[Studio]) -> None:
    """Whoever belongs to each studio that may fire it may ask. Raises InvalidInput or NotAllowed."""
    if not studios:
        raise InvalidInput(field="studios", problem=said("Say which studios may fire it: at least one."))
    for studio in studios:
        if not may(actor, "ask-kiln-job", studio):
            raise NotAllowed(
                field="studios",
                who=actor.name,
                what=said("ask for a firing"),
                studio=studio.name,
                role=said("student"),
            )


def _require_sense(job: KilnJob, mixed_with: Sequence[GlassType]) -> None:
    """Raises InvalidInput."""
    if not 0 < len(job.title) <= LONGEST_TITLE:
        raise InvalidInput(
            field="title",
            problem=said("Give it a title, in at most {longest} characters.", longest=LONGEST_TITLE),
        )
    if len(job.note) > LONGEST_NOTE:
        raise InvalidInput(
            field="note",
            problem=said("A note has at most {longest_note} characters.", longest_note=LONGEST_NOTE),
        )
    _require_known(job)
    if not 0 <= job.cold_min_each <= MOST_COLD_MIN:
        raise InvalidInput(
            field="cold_min_each",
            problem=said("Cold work takes from 0 to {most} minutes a piece.", most=MOST_COLD_MIN),
        )
    _require_times(job.arrives_at, job.due_at)
    _require_glass(job.glass, job.thickness_mm, mixed_with)


def _require_known(job: KilnJob) -> None:
    for field, value, known in (
        ("route", job.route, [name.value for name in RouteName]),
        ("aim", job.aim, list(KilnAim.values)),
    ):
        if value not in known:
            raise InvalidInput(field=field, problem=said("Choose one of {known}.", known=", ".join(known)))


def _require_times(arrives_at: dt.datetime, due_at: dt.datetime | None) -> None:
    require_reachable(arrives_at)
    if due_at is None:
        return
    require_reachable(due_at)
    if due_at <= arrives_at:
        raise InvalidInput(field="due_at", problem=said("It is due after it arrives."))
    if due_at <= timezone.now():
        raise InvalidInput(field="due_at", problem=said("It is due in the past; choose a time to come."))


def _require_glass(glass: GlassType, thickness_mm: float, mixed_with: Sequence[GlassType]) -> None:
    """Glasses whose expansions differ are never fused in one piece: the thermal model's own rule."""
    if not math.isfinite(thickness_mm):
        raise InvalidInput(field="thickness_mm", problem=said("Say how thick the pieces are."))
    try:
        Plate(
            glass=glass.as_thermal(),
            shape=Shape.PLATE_ON_SHELF,
            thickness_mm=thickness_mm,
            fused_with=tuple(other.as_thermal() for other in mixed_with),
        )
    except LehrbookError as error:
        field = "mixed_with" if error.field == "fused_with" else "thickness_mm"
        raise InvalidInput(field=field, problem=error.said, reason=error.code) from error


def _require_sizes(sizes: Sequence[SizeAsked], studios: Sequence[Studio]) -> None:
    """Raises InvalidInput."""
    total = sum(size.count for size in sizes)
    if not sizes or any(size.count < 1 for size in sizes) or total > MOST_PIECES:
        raise InvalidInput(
            field="sizes",
            problem=said("Say how many pieces there are of each size: 1 to {most} in all.", most=MOST_PIECES),
        )
    for size in sizes:
        _require_size(size)
        _require_mould(size.mould, studios)
        _require_makers(size)


def _require_size(size: SizeAsked) -> None:
    if not all(SHORTEST_MM <= side <= LONGEST_MM for side in (size.length_mm, size.width_mm)):
        raise InvalidInput(
            field="sizes",
            problem=said(
                "A piece is from {shortest} to {longest} mm long and wide.",
                shortest=SHORTEST_MM,
                longest=LONGEST_MM,
            ),
        )
    if size.round and size.length_mm != size.width_mm:
        raise InvalidInput(field="sizes", problem=said("A round piece is as wide as it is long."))
    if len(size.name) > 40:
        raise InvalidInput(field="sizes", problem=said("The name of a size has at most 40 characters."))


def _require_mould(mould: Mould | None, studios: Sequence[Studio]) -> None:
    if mould is None:
        return
    if mould.studio not in studios or not mould.active:
        raise InvalidInput(
            field="mould", problem=said("{mould} is at none of these studios.", mould=mould.name)
        )
    if mould.capacity < 1:
        raise InvalidInput(
            field="mould",
            problem=said(
                "{mould} holds no piece: choose another mould, or enter how many there are and what each "
                "holds.",
                mould=mould.name,
            ),
            reason="mould-holds-nothing",
        )


def _require_makers(size: SizeAsked) -> None:
    if len(size.makers) > size.count:
        raise InvalidInput(field="makers", problem=said("There are more makers than pieces."))
    if any(isinstance(maker, str) and len(maker.strip()) > LONGEST_NAME for maker in size.makers):
        raise InvalidInput(
            field="makers", problem=said("A name has at most {longest} characters.", longest=LONGEST_NAME)
        )


def _write_sizes(job: KilnJob, sizes: Sequence[SizeAsked], actor: Person) -> None:
    pieces: list[Piece] = []
    for size in sizes:
        row = JobSize.objects.create(
            job=job,
            name=size.name.strip(),
            count=size.count,
            round=size.round,
            length_mm=size.length_mm,
            width_mm=size.width_mm,
            mould=size.mould,
        )
        for at in range(size.count):
            maker = size.makers[at] if at < len(size.makers) else job.owner
            pieces.append(_piece(job, row, len(pieces) + 1, maker))
    write_labelled(pieces, by=actor)


def _piece(job: KilnJob, size: JobSize, number: int, maker: Person | str) -> Piece:
    name = maker.strip() if isinstance(maker, str) else ""
    account = job.owner if isinstance(maker, str) and not name else maker
    return Piece(
        job=job,
        size=size,
        number=number,
        maker=account if isinstance(account, Person) else None,
        maker_name=name,
    )


@dataclass(frozen=True, kw_only=True)
class Changes:
    """What is to be otherwise in a kiln job; what is None stays as it is, `no_due` takes the date away."""

    title: str | None = None
    sizes: Sequence[SizeAsked] | None = None
    glass: GlassType | None = None
    thickness_mm: float | None = None
    route: str | None = None
    arrives_at: dt.datetime | None = None
    due_at: dt.datetime | None = None
    no_due: bool = False
    studios: Sequence[Studio] | None = None
    aim: str | None = None
    mixed_with: Sequence[GlassType] | None = None
    cold_min_each: int | None = None
    shares_space: bool | None = None
    note: str | None = None


PLAIN = (
    "title",
    "glass",
    "thickness_mm",
    "route",
    "arrives_at",
    "due_at",
    "aim",
    "cold_min_each",
    "shares_space",
    "note",
)


@one_write
def change(*, actor: Person, job: KilnJob, changes: Changes) -> KilnJob:
    """Change a kiln job of which nothing is booked; other sizes are other pieces, with other labels.

    Raises NotYours, Over, NotAllowed, or InvalidInput that names the field.
    """
    require_minder(actor, job)
    lock(jobs=[job.pk])
    job.refresh_from_db()
    _require_status(job, KilnJobStatus.ASKED)
    for name in PLAIN:
        value = getattr(changes, name)
        if value is not None:
            setattr(job, name, value.strip() if isinstance(value, str) else value)
    if changes.no_due:
        job.due_at = None
    where = list(job.studios.all() if changes.studios is None else changes.studios)
    others = list(job.mixed_with.all() if changes.mixed_with is None else changes.mixed_with)
    require_asker(job.owner, where)
    _require_sense(job, others)
    _take_sizes(actor, job, changes.sizes, where)
    job.sequence, job.changed_at = job.sequence + 1, timezone.now()
    job.save()
    job.studios.set(where)
    job.mixed_with.set(others)
    _note(actor, job, "change")
    return job


def _take_sizes(
    actor: Person, job: KilnJob, sizes: Sequence[SizeAsked] | None, studios: Sequence[Studio]
) -> None:
    if sizes is None:
        for size in job.sizes.select_related("mould__studio"):
            _require_mould(size.mould, studios)
        return
    _require_sizes(sizes, studios)
    job.pieces.all().delete()
    job.sizes.all().delete()
    _write_sizes(job, sizes, actor)


def require_minder(actor: Person, job: KilnJob) -> None:
    """A kiln job is its owner's, and whoever books the kilns of its studios minds it. Raises NotYours."""
    if not minds_job(actor, job):
        raise NotYours(what=job.title)


def _require_status(job: KilnJob, *wanted: KilnJobStatus) -> None:
    if job.status in wanted:
        return
    why = {
        KilnJobStatus.ASKED: said("is not booked yet"),
        KilnJobStatus.BOOKED: said("is booked already; call its firings off first"),
        KilnJobStatus.DONE: said("is done already"),
        KilnJobStatus.CANCELLED: said("is called off already"),
    }
    raise Over(what=job.title, why=why[KilnJobStatus(job.status)])


@one_write
def arrived(
    *, actor: Person, job: KilnJob, pieces: Iterable[Piece] | None = None, place: str = ""
) -> list[Piece]:
    """Pieces have come to the studio, all of them unless some are named; `place` is where they stand.

    Raises NotYours, Over or InvalidInput.
    """
    require_minder(actor, job)
    lock(jobs=[job.pk])
    job.refresh_from_db(fields=["status"])
    _require_status(job, KilnJobStatus.ASKED, KilnJobStatus.BOOKED)
    wanted = job.pieces.filter(state=PieceState.EXPECTED)
    if pieces is not None:
        wanted = wanted.filter(pk__in=[piece.pk for piece in pieces])
    come = list(wanted)
    if not come:
        raise Over(what=job.title, why=said("has come whole already"))
    let_go_on(come, PieceState.HERE, by=actor, place=place)
    _note(actor, job, "arrive")
    return come


@one_write
def step_done(*, actor: Person, step: JobStep, done: bool = True) -> JobStep:
    """Handwork is done, or was not after all. After the last firing its pieces are ready once it is.

    Raises NotYours, NotAllowed or Over.
    """
    if not (may(actor, "tick", step.studio) or step.job.owner_id == actor.pk):
        raise NotAllowed(
            who=actor.name, what=said("tick this off"), studio=step.studio.name, role=said("technician")
        )
    lock(jobs=[step.job_id])
    step.refresh_from_db(fields=["done_at", "done_by"])
    if (step.done_at is not None) == done:
        why = said("is done already") if done else said("is not done yet")
        raise Over(what=str(step), why=why)
    step.done_at, step.done_by = (timezone.now(), actor) if done else (None, None)
    step.save(update_fields=["done_at", "done_by"])
    noted = f"{step.does.replace('-', ' ')}: {step.job.title}, {when(step.starts_at, step.studio)}"
    did = "step-done" if done else "step-not-done"
    audit.note(actor=actor, did=did, subject=step.job, studio=step.studio, said=noted)
    if done:
        made_ready(step.job, by=actor)
    return step


def _note(actor: Person, job: KilnJob, did: str) -> None:
    """A kiln job is noted at each studio that may fire it."""
    count = job.pieces.count()
    for studio in job.studios.order_by("pk"):
        noted = f"{job.title}: {count} pieces, {when(job.arrives_at, studio)}"
        audit.note(actor=actor, did=did, subject=job, studio=studio, said=noted)
