"""The table: pages of kiln jobs, of pieces, of the lists at the kiln, and of moulds."""

from __future__ import annotations

from typing import Any

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.models import Firing, JobStep, KilnAnswer, KilnJob, Piece, PieceState
from studios.models import Mould, Person
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.table import SIGNED_IN, Row
from tests.services.kiln_work import a_job, answered, booked, by_hand, load_at, planned, with_shelves
from tests.services.test_booking import book as book_class
from tests.worlds import local

MINDS = ("book-kiln-job",)
WEDNESDAY_TEN = local(2, 10)
ASKED = {
    "rows": "1",
    "title": "Dishes",
    "size0-count": "2",
    "size0-length_mm": "100",
    "glass": "fusing-90",
    "thickness_mm": "6",
    "route": "fuse",
    "arrives_day": "2031-03-04",
    "arrives_time": "09:00",
    "studios": "flame",
    "aim": "earliest",
}
ADDED = {"rows": "1", "size0-count": "1", "size0-length_mm": "80", "glass": "fusing-90", "thickness_mm": "6"}
BOWL = {"name": "bowl", "count": "2", "holds": "1", "length_mm": "150", "width_mm": "150"}


def of(job: KilnJob) -> dict[str, Any]:
    return {"uid": job.uid}


def somebodys(cast: Cast, _person: Person) -> dict[str, Any]:
    return of(a_job(cast.town))


def own(cast: Cast, person: Person) -> dict[str, Any]:
    return of(a_job(cast.town, person, studios=[cast.own_studio(person)]))


def booked_job(cast: Cast, **facts: Any) -> KilnJob:
    kiln = with_shelves(cast.town)
    job = a_job(cast.town, **facts)
    load = load_at(job, kiln, WEDNESDAY_TEN)
    wash = by_hand(load, Handwork.WASH_SHELVES, local(1, 10), 15)
    return booked(job, load, actor=cast.town.instructor, handwork=[wash])


def firing_of(cast: Cast, **facts: Any) -> Firing:
    return booked_job(cast, **facts).loads.get().firing


def open_firing(cast: Cast, _person: Person) -> dict[str, Any]:
    return {"uid": firing_of(cast, shares_space=True).uid}


def class_firing(cast: Cast, _person: Person) -> dict[str, Any]:
    with_shelves(cast.town)
    return {"uid": book_class(cast.town, "tiles", local(1, 18)).loads.get().firing.uid}


def an_answer(cast: Cast, **facts: Any) -> dict[str, Any]:
    job = a_job(cast.town)
    return {"uid": KilnAnswer.objects.create(job=job, asked_by=job.owner, **facts).uid}


def with_plan(cast: Cast, _person: Person) -> dict[str, Any]:
    job, kiln = a_job(cast.town), with_shelves(cast.town)
    return {"uid": answered(job, planned(load_at(job, kiln, WEDNESDAY_TEN))).uid}


def a_piece(cast: Cast, **facts: Any) -> dict[str, Any]:
    piece = a_job(cast.town).pieces.order_by("number")[0]
    Piece.objects.filter(pk=piece.pk).update(**facts)
    return {"uid": piece.uid}


def own_piece(cast: Cast, person: Person) -> dict[str, Any]:
    return a_piece(cast, maker=person)


def shown_open(cast: Cast, _person: Person) -> str:
    return f"/firings/{Firing.objects.get(takes_more_until__isnull=False).uid}/add-pieces"


def a_mould(cast: Cast, _person: Person) -> dict[str, Any]:
    mould, _ = Mould.objects.get_or_create(
        studio=cast.town.flame, name="bowl", defaults={"length_mm": 150, "width_mm": 150}
    )
    return {"slug": "flame", "kind": "moulds", "key": mould.pk}


def ticked(cast: Cast, **facts: Any) -> dict[str, Any]:
    return {"piece": str(a_piece(cast, **facts)["uid"]), "place": "table", "back": "pick-up:"}


JOBS = [
    Row(name="kiln-jobs", by=("ask-kiln-job",), anywhere=True),
    Row(name="kiln-jobs-ask", by=("ask-kiln-job",), anywhere=True),
    Row(name="kiln-jobs-ask", method="POST", by=("ask-kiln-job",), sent=lambda *_: ASKED),
    Row(
        name="kiln-jobs-open-space",
        by=("add-to-firing",),
        before=lambda cast, _: firing_of(cast, shares_space=True),
        shows=shown_open,
    ),
    Row(name="kiln-jobs-job", note="of somebody", by=MINDS, made=somebodys),
    Row(name="kiln-jobs-job", note="of one's own", by=(SIGNED_IN,), made=own),
    Row(name="kiln-jobs-change", by=MINDS, made=somebodys),
    Row(name="kiln-jobs-change", method="POST", by=MINDS, made=somebodys, sent=lambda *_: ASKED),
    Row(name="kiln-jobs-labels", by=MINDS, made=somebodys),
    *(
        Row(name=name, method="POST", note=note, by=by, made=made)
        for name in ("kiln-jobs-seek", "kiln-jobs-come", "kiln-jobs-call-off")
        for note, by, made in (("of somebody", MINDS, somebodys), ("of one's own", (SIGNED_IN,), own))
    ),
    Row(
        name="kiln-jobs-seek",
        method="POST",
        note="of one that is booked",
        by=MINDS,
        made=lambda cast, _: of(booked_job(cast)),
    ),
    Row(
        name="tick-job-step",
        method="POST",
        by=("tick",),
        made=lambda cast, _: {"uid": JobStep.objects.get(job=booked_job(cast)).uid},
    ),
]
ANSWERS = [
    Row(name="kiln-jobs-answer", by=MINDS, made=with_plan),
    Row(
        name="kiln-jobs-what-if",
        method="POST",
        by=MINDS,
        made=with_plan,
        sent=lambda *_: {"if-more_pieces": "1"},
    ),
    Row(
        name="kiln-jobs-due-later",
        method="POST",
        by=MINDS,
        made=lambda cast, _: an_answer(
            cast, refusal={"sentence": "Too late.", "earliest": int(local(9, 9).timestamp()) // 60}
        ),
    ),
    Row(name="kiln-jobs-stop", method="POST", by=MINDS, made=lambda cast, _: an_answer(cast)),
    Row(name="kiln-jobs-book", method="POST", by=MINDS, made=with_plan),
]
FIRINGS = [
    *(
        Row(name=name, by=("see-names",), made=lambda cast, _: {"uid": firing_of(cast).uid})
        for name in ("loading-list", "unloading-list")
    ),
    Row(name="kiln-jobs-add", by=("add-to-firing",), made=open_firing),
    Row(name="kiln-jobs-add", method="POST", by=("add-to-firing",), made=open_firing, sent=lambda *_: ADDED),
    Row(
        name="offer-space",
        method="POST",
        by=MINDS,
        made=lambda cast, _: {"uid": firing_of(cast).uid},
    ),
    Row(
        name="open-class-firing",
        method="POST",
        by=("open-class-firing",),
        made=class_firing,
        sent=lambda *_: {"shelves_kept": "1"},
    ),
]
PIECES = [
    Row(name="piece", note="of somebody", by=("hand-out",), made=lambda cast, _: a_piece(cast)),
    Row(name="piece", note="of one's own", by=(SIGNED_IN,), made=own_piece),
    Row(name="put-pieces", method="POST", by=("hand-out",), sent=lambda cast, _: ticked(cast)),
    Row(
        name="hand-pieces-over",
        method="POST",
        by=("hand-out",),
        sent=lambda cast, _: ticked(cast, state=PieceState.READY),
    ),
    Row(
        name="damage-piece",
        method="POST",
        by=("hand-out",),
        made=lambda cast, _: a_piece(cast),
        sent=lambda *_: {"damage": "a chip"},
    ),
    Row(
        name="piece-again",
        method="POST",
        by=("hand-out",),
        made=lambda cast, _: a_piece(cast, state=PieceState.LOST),
        sent=lambda *_: {"place": "table"},
    ),
    *(
        Row(name=name, by=("hand-out",), made=lambda cast, _: {"uid": cast.session.uid})
        for name in ("class-pieces", "class-labels")
    ),
    Row(
        name="class-pieces",
        method="POST",
        by=("hand-out",),
        made=lambda cast, _: {"uid": cast.seat.session.uid if cast.seat.session else None},
        sent=lambda cast, _: {f"made-{cast.seated.pk}": "2"},
    ),
]
MOULDS = [
    Row(
        name="set-up-lines",
        note="moulds",
        by=("set-up-equipment",),
        made=lambda *_: {"slug": "flame", "kind": "moulds"},
    ),
    Row(
        name="set-up-lines",
        method="POST",
        note="moulds",
        by=("set-up-equipment",),
        made=lambda *_: {"slug": "flame", "kind": "moulds"},
        sent=lambda *_: BOWL,
    ),
    Row(
        name="set-up-line",
        method="POST",
        note="moulds",
        by=("set-up-equipment",),
        made=a_mould,
        sent=lambda *_: BOWL,
    ),
    Row(name="drop-line", method="POST", note="moulds", by=("set-up-equipment",), made=a_mould),
]
KILN_JOBS = [*JOBS, *ANSWERS, *FIRINGS, *PIECES, *MOULDS]
