"""The table: kiln jobs, their answers, open shelf space, moulds and pieces in the API."""

from __future__ import annotations

from typing import Any

from scheduling.models import Firing, KilnJob, PieceState
from scheduling.services.offered_space import offer
from studios.models import Mould, Person
from tests.faces.permissions.cast import Cast
from tests.faces.permissions.pages_kiln_jobs import (
    MINDS,
    a_piece,
    an_answer,
    class_firing,
    firing_of,
    own,
    own_piece,
    somebodys,
    with_plan,
)
from tests.faces.permissions.table import SIGNED_IN, Row
from tests.services.kiln_work import a_job
from tests.worlds import local

ASKED = {
    "title": "Dishes",
    "sizes": [{"count": 2, "length_mm": 100, "width_mm": 100}],
    "glass": "fusing-90",
    "thickness_mm": 6,
    "route": "fuse",
    "arrives_at": local(1, 9).isoformat(),
    "studios": ["flame"],
}
ADDED = {"sizes": [{"count": 1, "length_mm": 80, "width_mm": 80}], "glass": "fusing-90", "thickness_mm": 6}


def a_mould(cast: Cast, _person: Person) -> object:
    return Mould.objects.create(studio=cast.town.flame, name="bowl", length_mm=150, width_mm=150)


def mould_shown(_cast: Cast, _person: Person) -> str:
    return str(Mould.objects.get().uid)


def job_shown(_cast: Cast, _person: Person) -> str:
    return str(KilnJob.objects.get().uid)


def piece_shown(_cast: Cast, _person: Person) -> str:
    return str(KilnJob.objects.get().pieces.order_by("number")[0].uid)


def open_shown(_cast: Cast, _person: Person) -> str:
    return str(Firing.objects.get(takes_more_until__isnull=False).uid)


def added(cast: Cast, _person: Person) -> dict[str, Any]:
    return {**ADDED, "firing": str(firing_of(cast, shares_space=True).uid)}


def opened_class(cast: Cast, person: Person) -> dict[str, Any]:
    address = class_firing(cast, person)
    offer(actor=cast.town.instructor, firing=Firing.objects.get(**address))
    return address


def named(cast: Cast, **facts: Any) -> dict[str, Any]:
    return {"pieces": [str(a_piece(cast, **facts)["uid"])]}


JOBS = [
    Row(name="api:kiln-job-list", by=MINDS, before=lambda cast, _: a_job(cast.town), shows=job_shown),
    Row(name="api:kiln-job-list", method="POST", by=("ask-kiln-job",), sent=lambda *_: ASKED),
    Row(name="api:kiln-job-detail", note="of somebody", by=MINDS, made=somebodys),
    Row(name="api:kiln-job-detail", note="of one's own", by=(SIGNED_IN,), made=own),
    *(
        Row(name=name, method="POST", note=note, by=by, made=made)
        for name in ("api:kiln-job-seek", "api:kiln-job-arrive", "api:kiln-job-cancel")
        for note, by, made in (("of somebody", MINDS, somebodys), ("of one's own", (SIGNED_IN,), own))
    ),
]
ANSWERS = [
    Row(
        name="api:kiln-answer-list",
        by=MINDS,
        before=lambda cast, _: an_answer(cast),
        shows=job_shown,
    ),
    Row(name="api:kiln-answer-detail", by=MINDS, made=with_plan),
    Row(name="api:kiln-answer-stop", method="POST", by=MINDS, made=lambda cast, _: an_answer(cast)),
    Row(name="api:kiln-answer-book", method="POST", by=MINDS, made=with_plan),
]
SPACE = [
    Row(
        name="api:open-firing-list",
        by=("add-to-firing",),
        before=lambda cast, _: firing_of(cast, shares_space=True),
        shows=open_shown,
    ),
    Row(name="api:open-firing-list", method="POST", by=("add-to-firing",), sent=added),
    Row(name="api:open-firing-open", method="POST", by=("open-class-firing",), made=class_firing),
    Row(name="api:open-firing-close", method="POST", by=("open-class-firing",), made=opened_class),
    Row(name="api:mould-list", by=("see",), before=a_mould, shows=mould_shown),
]
PIECES = [
    Row(name="api:piece-list", by=("hand-out",), before=lambda cast, _: a_job(cast.town), shows=piece_shown),
    Row(name="api:piece-detail", note="of somebody", by=("hand-out",), made=lambda cast, _: a_piece(cast)),
    Row(name="api:piece-detail", note="of one's own", by=(SIGNED_IN,), made=own_piece),
    Row(
        name="api:piece-put",
        method="POST",
        by=("hand-out",),
        sent=lambda cast, _: {**named(cast), "place": "table"},
    ),
    Row(
        name="api:piece-hand-over",
        method="POST",
        by=("hand-out",),
        sent=lambda cast, _: named(cast, state=PieceState.READY),
    ),
    Row(
        name="api:piece-damage",
        method="POST",
        by=("hand-out",),
        made=lambda cast, _: a_piece(cast),
        sent=lambda *_: {"damage": "a chip"},
    ),
]
KILN_JOBS = [*JOBS, *ANSWERS, *SPACE, *PIECES]
