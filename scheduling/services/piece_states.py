"""How pieces go on: every change is written with what happened, and nobody asks here who may.

expected -> here -> in the kiln -> here (between two firings) -> ready -> handed over
                                                  broken or lost, from anywhere
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from scheduling.engine.kiln_work.routes import ROUTES, Handwork, RouteName
from scheduling.models import (
    Collection,
    Firing,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Load,
    PickUp,
    Piece,
    PieceEvent,
    PieceState,
)
from scheduling.selectors.kiln_ready import handed_back
from scheduling.selectors.kiln_stages import works_on
from scheduling.selectors.pieces import studios_fired_at
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.wording import when
from studios.models import Person, Studio
from studios.said import said

LONGEST_PLACE = 60
GONE = (PieceState.HANDED_OVER, PieceState.LOST)
# Who gave it, and who took it: the database knows no piece handed over by nobody.
SIGNED = ("handed_over_at", "handed_by", "signed_by")
# Something more lies there for whoever has collected the rest.
UNCOLLECTED = {"collected_at": None, "noted_by": None, "signed_by": ""}


def let_go_on(
    pieces: Sequence[Piece], state: PieceState, *, by: Person, place: str | None = None, note: str = ""
) -> None:
    """Pieces go on to a state, and to a place where one is given; each keeps what happened."""
    now = timezone.now()
    for piece in pieces:
        piece.state, piece.changed_at = state, now
        if place is not None:
            piece.place = place[:LONGEST_PLACE]
    Piece.objects.bulk_update(pieces, ["state", "place", "changed_at", *SIGNED])
    PieceEvent.objects.bulk_create(
        PieceEvent(piece=piece, at=now, state=state, place=piece.place, note=note, by=by) for piece in pieces
    )


def pieces_in(load: Load) -> QuerySet[Piece]:
    """The pieces of a load, as they are numbered; what is lost or handed over is no more among them."""
    rows = Piece.objects.filter(pieces_of(load)).exclude(state__in=GONE)
    return rows.select_related("job__owner", "session__instructor", "maker").order_by("number", "pk")


def pieces_of(load: Load) -> Q:
    """What is in a load: all pieces of a class, or those of a kiln job that stand in it."""
    return Q(session=load.session_id) if load.session_id is not None else Q(stands__load=load)


def whose(piece: Piece) -> Person:
    """Who is told of a piece and collects it: its maker; of makers without an account, who brought it."""
    if piece.maker is not None:
        return piece.maker
    if piece.job is not None:
        return piece.job.owner
    if piece.session is None:
        raise ValueError("a piece is of a kiln job or of a class")
    return piece.session.instructor


def gone_in(firing: Firing, *, by: Person) -> None:
    """What happened in a firing says that its pieces are in it, each on its shelf."""
    kiln = firing.equipment.name
    for load in firing.loads.order_by("pk"):
        levels = dict(load.stands.values_list("piece_id", "level"))
        on: dict[int, list[Piece]] = defaultdict(list)
        for piece in pieces_in(load).filter(state__in=(PieceState.EXPECTED, PieceState.HERE)):
            on[levels.get(piece.pk) or 0].append(piece)
        for level, pieces in sorted(on.items()):
            place = said("shelf {level}, {kiln}", level=level, kiln=kiln) if level else kiln
            let_go_on(pieces, PieceState.IN_KILN, by=by, place=place)


def back_in(firing: Firing, *, by: Person) -> None:
    """That a firing was unloaded is struck: what came out of it, and has gone on nowhere, is in it again."""
    out = (PieceState.HERE, PieceState.READY)
    inside = [
        piece for load in firing.loads.order_by("pk") for piece in pieces_in(load).filter(state__in=out)
    ]
    still = [piece for piece in inside if not _fired_since(piece, firing)]
    let_go_on(still, PieceState.IN_KILN, by=by, place=firing.equipment.name)


def _fired_since(piece: Piece, firing: Firing) -> bool:
    later = piece.stands.filter(load__firing__last_in_at__gt=firing.last_in_at)
    return later.filter(load__firing__unloaded_at__isnull=False).exists()


def come_out(load: Load, shelf: str, *, by: Person, broken: bool = False) -> None:
    """The pieces of a load are out and lie on a shelf; after the last firing they may be ready."""
    states = (PieceState.EXPECTED, PieceState.HERE, PieceState.IN_KILN)
    out = list(pieces_in(load).filter(state__in=states))
    again = said("broke off; to be annealed again") if broken else ""
    let_go_on(out, PieceState.HERE, by=by, place=shelf, note=again)
    if broken:
        return
    if load.job is not None:
        made_ready(load.job, by=by)
    elif not Load.objects.filter(session=load.session_id, firing__unloaded_at__isnull=True).exists():
        let_go_on(out, PieceState.READY, by=by)


def put_on(load: Load, shelf: str, *, by: Person) -> None:
    """What is out of a load and lies on another shelf than was said lies on this one."""
    out = pieces_in(load).filter(state__in=(PieceState.HERE, PieceState.READY)).exclude(place=shelf)
    for state in (PieceState.HERE, PieceState.READY):
        moved = [piece for piece in out.filter(state=state) if not _fired_since(piece, load.firing)]
        let_go_on(moved, state, by=by, place=shelf)


def made_ready(job: KilnJob, *, by: Person) -> None:
    """After its last firing, and the cold work on it that follows, a piece is ready; its maker is told once.

    Whoever has several pieces at a studio is told when the last of them is.
    """
    concerned: dict[tuple[Person, Studio], None] = {}
    undone = job.steps.filter(does=Handwork.COLD_WORK, done_at__isnull=True).prefetch_related("of")
    for load in job.loads.select_related("firing__equipment__studio", "job").order_by("in_from", "pk"):
        ready = _over(load, undone)
        let_go_on(ready, PieceState.READY, by=by)
        if ready:
            _to_be_collected(load, ready, by=by)
        studio = load.firing.equipment.studio
        concerned.update(dict.fromkeys((whose(piece), studio) for piece in ready))
    tell_ready(job, concerned)


def reckon_ready(firing: Firing) -> None:
    """When a firing moves, so does the moment at which all of a kiln job can be handed back."""
    for job in KilnJob.objects.filter(loads__firing=firing, status=KilnJobStatus.BOOKED).distinct():
        ready = max(each.at for each in handed_back(job))
        KilnJob.objects.filter(pk=job.pk).exclude(ready_at=ready).update(
            ready_at=ready, changed_at=timezone.now(), sequence=F("sequence") + 1
        )


def last_step(job: KilnJob) -> int:
    """Which firing of its route is the last, counted from 1."""
    return len(ROUTES[RouteName(job.route)].firings)


def _over(load: Load, undone: Iterable[JobStep]) -> list[Piece]:
    """What is out of its last firing, and waits for no cold work after that."""
    firing, job = load.firing, load.job
    if job is None or load.job_step != last_step(job) or firing.unloaded_at is None or firing.broken_at:
        return []
    out = pieces_in(load).filter(state=PieceState.HERE)
    return [piece for piece in out if not any(works_on(step, load, piece) for step in undone)]


def _to_be_collected(load: Load, pieces: Sequence[Piece], *, by: Person) -> None:
    now, shelf = timezone.now(), pieces[0].place
    pick_up, new = PickUp.objects.get_or_create(
        load=load, defaults={"shelf": shelf, "ready_at": now, "recorded_by": by}
    )
    for person in dict.fromkeys(whose(piece) for piece in pieces):
        Collection.objects.update_or_create(pick_up=pick_up, person=person, defaults=UNCOLLECTED)
    if new and load.job is not None:
        studio = load.firing.equipment.studio
        noted = f"{load.job.title}: {shelf}"
        audit.note(actor=by, did="shelve", subject=pick_up, studio=studio, said=noted)


def tell_ready(job: KilnJob, people: Iterable[tuple[Person, Studio]]) -> None:
    """Whoever has a piece that has just become ready hears of it, once all of the own pieces there are."""
    rows = job.pieces.exclude(state__in=GONE).select_related("job__owner", "maker", "session")
    left = list(rows.order_by("number"))
    fired_at = studios_fired_at(left)
    for person, studio in people:
        pieces = [
            piece
            for piece in left
            if whose(piece) == person and fired_at.get(piece.pk, studio.pk) == studio.pk
        ]
        if pieces and all(piece.state == PieceState.READY for piece in pieces):
            _tell(job, person, pieces, studio)


def _tell(job: KilnJob, person: Person, pieces: Sequence[Piece], studio: Studio) -> None:
    tell(
        person=person,
        subject=said("To be collected: {what}", what=job.title),
        body=said(
            "Your pieces ({what}) are ready at {studio}, since {when}. They lie at {places}: {labels}.",
            what=job.title,
            studio=studio.name,
            when=when(max(piece.changed_at for piece in pieces), studio),
            places=", ".join(dict.fromkeys(piece.place for piece in pieces)),
            labels=", ".join(piece.label for piece in pieces),
        ),
    )


def close_when_over(jobs: Iterable[KilnJob]) -> None:
    """A kiln job is done once nothing of it is left at the studio; it is open again when something is."""
    for job in jobs:
        left = job.pieces.exclude(state__in=GONE).exists()
        was = KilnJobStatus.DONE if left else KilnJobStatus.BOOKED
        now = KilnJobStatus.BOOKED if left else KilnJobStatus.DONE
        if KilnJob.objects.filter(pk=job.pk, status=was).update(status=now, changed_at=timezone.now()):
            job.status = now
