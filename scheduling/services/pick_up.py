"""Handing pieces back: unloaded onto a shelf, each person told once, and collected."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping

from django.utils import timezone

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import ActualKind, Collection, Firing, Load, PickUp, Piece, PieceState, SeatStatus
from scheduling.services import audit
from scheduling.services.actuals import Recorded, require_recorder, write_actual
from scheduling.services.messages import tell
from scheduling.services.piece_states import (
    close_when_over,
    come_out,
    let_go_on,
    pieces_in,
    pieces_of,
    put_on,
    whose,
)
from scheduling.services.transactions import lock, one_write
from scheduling.wording import when
from studios.models import Person
from studios.said import said
from studios.selectors import may

LONGEST_SHELF, LONGEST_SIGNED = 60, 80


@one_write
def unload(
    *, actor: Person, firing: Firing, shelves: Mapping[Load, str], at: dt.datetime | None = None
) -> Recorded | None:
    """Take a firing out and put each load on a shelf: whoever has pieces in it is told once where they lie.

    What is unloaded already only gets its shelves, or others. Pieces that must be annealed again are handed
    to nobody, and those of a kiln job between two firings to nobody yet. Returns what was recorded.
    Raises NotAllowed, InvalidInput, Over or OutOfOrder.
    """
    require_recorder(actor, firing)
    _lock_with_pieces(firing)
    firing.refresh_from_db()
    _require_shelves(firing, shelves)
    recorded = None
    if firing.unloaded_at is None:
        moment = at or timezone.now()
        recorded = write_actual(actor=actor, firing=firing, kind=ActualKind.UNLOADED, at=moment)
        firing.refresh_from_db()
    for load in firing.loads.select_related("session__course", "job", "owner").order_by("pk"):
        if firing.broken_at is not None:
            come_out(load, "", by=actor, broken=True)
            continue
        shelf = shelves[load].strip()
        come_out(load, shelf, by=actor)
        if load.job is None or hasattr(load, "pick_up"):
            _put_on_shelf(actor, firing, load, shelf)
        put_on(load, shelf, by=actor)
    return recorded


def _lock_with_pieces(firing: Firing) -> None:
    """Lock all that the hours of a firing touch, and whatever has pieces in it."""
    supplies = firing.equipment.draws.values_list("supply_id", flat=True)
    loads = list(firing.loads.values_list("session_id", "job_id"))
    lock(
        supplies=supplies,
        equipment=[firing.equipment_id],
        sessions=[session for session, _ in loads if session],
        jobs=[job for _, job in loads if job],
    )


def _require_shelves(firing: Firing, shelves: Mapping[Load, str]) -> None:
    if firing.broken_at is not None:
        if firing.unloaded_at is not None:
            raise Over(
                what=str(firing),
                why=said("broke off; its pieces must be annealed again, and lie on no shelf"),
            )
        return
    for load in firing.loads.all():
        shelf = shelves.get(load, "").strip()
        if not 0 < len(shelf) <= LONGEST_SHELF:
            raise InvalidInput(
                field="shelves",
                problem=said(
                    "Say where each load lies, in at most {longest_shelf} characters: {load}.",
                    longest_shelf=LONGEST_SHELF,
                    load=load,
                ),
            )


def _put_on_shelf(actor: Person, firing: Firing, load: Load, shelf: str) -> None:
    at = firing.unloaded_at or timezone.now()
    pick_up, new = PickUp.objects.get_or_create(
        load=load, defaults={"shelf": shelf, "ready_at": at, "recorded_by": actor}
    )
    if not new and pick_up.shelf == shelf:
        return
    if not new:
        pick_up.shelf = shelf
        pick_up.save(update_fields=["shelf"])
    studio = firing.equipment.studio
    audit.note(actor=actor, did="shelve", subject=pick_up, studio=studio, said=f"{_what(load)}: {shelf}")
    for person in _whose(load) if new else ():
        Collection.objects.create(pick_up=pick_up, person=person)
        _tell_ready(pick_up, person)


def _whose(load: Load) -> list[Person]:
    """Whoever sat in the class; where there is none, or nobody sat in it, whoever owns the load.

    Of a kiln job, whoever made a piece of it, and who brought those of makers without an account.
    """
    if load.job_id is not None:
        return list(dict.fromkeys(whose(piece) for piece in pieces_in(load))) or [load.owner]
    sat = Person.objects.filter(seats__session=load.session_id, seats__status=SeatStatus.BOOKED)
    found = list(sat.distinct().order_by("pk")) if load.session_id is not None else []
    return found or [load.owner]


def _what(load: Load) -> str:
    if load.session is not None:
        return load.session.course.name
    return load.job.title if load.job is not None else said("own work")


def _tell_ready(pick_up: PickUp, person: Person) -> None:
    load = pick_up.load
    studio = load.firing.equipment.studio
    tell(
        person=person,
        subject=said("To be collected: {what}", what=_what(load)),
        body=said(
            "Your pieces ({what}) are out of {equipment} at {studio}. They lie at {shelf}, from {when}.",
            what=_what(load),
            equipment=load.firing.equipment.name,
            studio=studio.name,
            shelf=pick_up.shelf,
            when=when(pick_up.ready_at, studio),
        ),
        key=f"collect:{pick_up.uid}",
    )


@one_write
def mark_collected(
    *, actor: Person, collection: Collection, collected: bool = True, signed_by: str = ""
) -> Collection:
    """Note that somebody's pieces were handed over, by whom, and who signed; or that they were not after all.

    Raises NotAllowed, InvalidInput or Over.
    """
    firing = collection.pick_up.load.firing
    studio = firing.equipment.studio
    if not may(actor, "hand-out", studio):
        raise NotAllowed(
            who=actor.name, what=said("hand pieces out"), studio=studio.name, role=said("technician")
        )
    if len(signed_by.strip()) > LONGEST_SIGNED:
        raise InvalidInput(
            field="signed_by",
            problem=said("A name has at most {longest} characters.", longest=LONGEST_SIGNED),
        )
    _lock_with_pieces(firing)
    collection.refresh_from_db(fields=["collected_at", "noted_by"])
    if (collection.collected_at is not None) == collected:
        why = "are collected already" if collected else "are not collected yet"
        raise Over(what=said("The pieces of {person}", person=collection.person.name), why=why)
    collection.collected_at = timezone.now() if collected else None
    collection.noted_by = actor if collected else None
    collection.signed_by = signed_by.strip() if collected else ""
    collection.save(update_fields=["collected_at", "noted_by", "signed_by"])
    _pieces_follow(actor, collection)
    noted = f"{_what(collection.pick_up.load)}, {collection.person.name}"
    did = "hand-over" if collected else "not-collected"
    audit.note(actor=actor, did=did, subject=collection, studio=studio, said=noted)
    return collection


def _pieces_follow(actor: Person, collection: Collection) -> None:
    """The pieces of whoever collects go with it, each with who signed; or they are back on their shelf."""
    load, person = collection.pick_up.load, collection.person
    of_load = Piece.objects.filter(pk__in=Piece.objects.filter(pieces_of(load)).values("pk"))
    gone = collection.collected_at is not None
    was = PieceState.READY if gone else PieceState.HANDED_OVER
    rows = of_load.filter(state=was).select_related("job__owner", "session__instructor", "maker")
    mine = [piece for piece in rows.order_by("number") if whose(piece) == person]
    for piece in mine:
        piece.handed_over_at, piece.handed_by = collection.collected_at, collection.noted_by
        piece.signed_by = (collection.signed_by or person.name) if gone else ""
    state, place = (PieceState.HANDED_OVER, "") if gone else (PieceState.READY, collection.pick_up.shelf)
    let_go_on(mine, state, by=actor, place=place)
    close_when_over([load.job] if load.job is not None else [])
