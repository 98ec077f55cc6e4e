"""Pieces of a class: listed one by one, so that what is blown and what is fused is picked up alike."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils import timezone

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import BookingStatus, Load, Piece, PieceState, SeatStatus, Session, Stand
from scheduling.services import audit
from scheduling.services.labels import write_labelled
from scheduling.services.transactions import lock, one_write
from scheduling.wording import meeting
from studios.models import Person
from studios.said import said
from studios.selectors import may

MOST_EACH = 40


@one_write
def list_pieces(*, actor: Person, session: Session, counts: Mapping[Person, int]) -> list[Piece]:
    """List how many pieces each made in a class: each gets a label, and goes the way of the class's load.

    Said again, only what is more is added. Hot pieces stand where there is room; their places are not given.
    Raises NotAllowed, InvalidInput or Over.
    """
    studio = session.studio
    if not may(actor, "hand-out", studio):
        raise NotAllowed(
            who=actor.name,
            what=said("list the pieces of a class"),
            studio=studio.name,
            role=said("instructor"),
        )
    lock(sessions=[session.pk])
    session.refresh_from_db(fields=["status"])
    if session.status != BookingStatus.BOOKED:
        raise Over(what=session.course.name, why=said("is called off"))
    _require_counts(session, counts)
    loads = list(session.loads.select_related("firing__equipment").order_by("pk"))
    new = _new(session, counts, loads)
    write_labelled(new, by=actor)
    Stand.objects.bulk_create(Stand(load=load, piece=piece) for load in loads for piece in new)
    noted = f"{meeting(session)}: {session.pieces.count()} pieces"
    audit.note(actor=actor, did="list-pieces", subject=session, studio=studio, said=noted)
    return new


def stand_again(session: Session) -> None:
    """When a class has moved, its pieces go into the firings that it has now."""
    pieces = list(session.pieces.order_by("number"))
    if pieces:
        loads = session.loads.exclude(stands__isnull=False)
        Stand.objects.bulk_create(Stand(load=load, piece=piece) for load in loads for piece in pieces)


def drop_expected(session: Session) -> None:
    """What was listed of a class that is called off is never made."""
    session.pieces.filter(state=PieceState.EXPECTED).delete()


def _require_counts(session: Session, counts: Mapping[Person, int]) -> None:
    sat = set(session.seat_rows.filter(status=SeatStatus.BOOKED).values_list("person_id", flat=True)) | {
        session.instructor_id,
        *session.assistants.values_list("pk", flat=True),
    }
    for person, count in counts.items():
        if person.pk not in sat:
            raise InvalidInput(
                field="counts", problem=said("{who} has no seat in this class.", who=person.name)
            )
        if not 0 <= count <= MOST_EACH:
            raise InvalidInput(
                field="counts",
                problem=said("Nobody makes more than {most} pieces in a class.", most=MOST_EACH),
            )


def _new(session: Session, counts: Mapping[Person, int], loads: list[Load]) -> list[Piece]:
    listed = list(session.pieces.order_by("number"))
    state, number, now = (
        _state(session, loads),
        max((one.number for one in listed), default=0),
        timezone.now(),
    )
    where = loads[0].firing.equipment.name if loads and state == PieceState.IN_KILN else ""
    found: list[Piece] = []
    for person, count in counts.items():
        had = sum(one.maker_id == person.pk for one in listed)
        for _ in range(max(0, count - had)):
            number += 1
            found.append(
                Piece(session=session, number=number, maker=person, state=state, place=where, changed_at=now)
            )
    return found


def _state(session: Session, loads: list[Load]) -> PieceState:
    """Before the class they are to come; then in its annealer, until that is unloaded."""
    if session.starts_at > timezone.now():
        return PieceState.EXPECTED
    if any(load.firing.unloaded_at is None for load in loads):
        return PieceState.IN_KILN
    return PieceState.READY if loads else PieceState.HERE
