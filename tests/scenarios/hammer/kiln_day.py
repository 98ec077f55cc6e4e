"""What happens with kiln jobs on a day: booked, added to, worked cold, called off, brought, damaged."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from scheduling.models import Firing, KilnJob
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import SizeAsked, arrived
from scheduling.services.open_shelves import add_pieces
from scheduling.services.pieces import damaged
from studios.models import Mould, Person
from tests.services.kiln_work import a_job, with_shelves
from tests.worlds import Town, local

Told = Callable[..., None]


def kiln_jobs(town: Town, told: Told, owner: Person, other: Person) -> None:
    """Dishes are slumped into moulds, plates worked cold; another adds to them, and they are planned anew."""
    with_shelves(town)
    _slumped(town, told, owner)
    plates = _asked(town, told, owner, title="Plates", cold_min_each=10, shares_space=True)
    _booked(town, told, plates)
    sizes = [SizeAsked(count=1, length_mm=90, width_mm=60)]
    what: dict[str, Any] = {"sizes": sizes, "glass": plates.glass, "thickness_mm": 6.0}
    added = add_pieces(actor=other, firing=Firing.objects.get(loads__job=plates), **what)
    told("add_pieces", added.uid)
    _booked(town, told, plates)
    _given_up(town, told, owner)


def _slumped(town: Town, told: Told, owner: Person) -> None:
    """Two dishes lie in one mould, and two round ones beside it; one of them falls."""
    facts = {"count": 1, "holds": 2, "length_mm": 200, "width_mm": 160}
    mould = Mould.objects.create(studio=town.flame, name="trough", **facts)
    sizes = (
        SizeAsked(count=2, length_mm=150, width_mm=120, mould=mould),
        SizeAsked(count=2, length_mm=110, width_mm=110, round=True),
    )
    job = _asked(town, told, owner, route="fuse-slump", sizes=sizes)
    arrived(actor=town.technician, job=job)
    told("arrive", job.uid)
    _booked(town, told, job)
    piece = job.pieces.order_by("number").last()
    assert piece is not None
    damaged(actor=town.technician, piece=piece, damage="fell")
    told("damage", piece.uid)


def _given_up(town: Town, told: Told, owner: Person) -> None:
    """One is called off by the studio, and one is asked for and no more."""
    job = _asked(town, told, owner, title="Given up")
    _booked(town, told, job)
    cancel(actor=town.technician, job=job)
    told("call_off_job", job.uid)
    _asked(town, told, owner, title="Some day")


def _asked(town: Town, told: Told, owner: Person, **facts: Any) -> KilnJob:
    job = a_job(town, owner, **{"arrives_at": local(8, 9), **facts})
    told("ask_job", job.uid)
    return job


def _booked(town: Town, told: Told, job: KilnJob) -> None:
    answer = seek(actor=job.owner, job=job)
    told("seek", answer.uid)
    told("book_answer", book(actor=town.technician, answer=answer).uid, owner={"uid": str(job.owner.uid)})
    job.refresh_from_db()
