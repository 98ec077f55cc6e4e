"""Pieces in the hands of those who mind them: put somewhere, damaged, handed over and signed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils import timezone

from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import Collection, Piece, PieceState
from scheduling.selectors.pieces import studio_of
from scheduling.services import audit
from scheduling.services.class_pieces import list_pieces
from scheduling.services.messages import tell
from scheduling.services.piece_states import (
    GONE,
    LONGEST_PLACE,
    close_when_over,
    let_go_on,
    tell_ready,
    whose,
)
from scheduling.services.transactions import lock, one_write
from studios.models import Person
from studios.said import said
from studios.selectors import may

__all__ = ["damaged", "found_again", "hand_over", "list_pieces", "place_pieces", "take_back"]

LONGEST_DAMAGE, LONGEST_SIGNED = 200, 80


@one_write
def place_pieces(*, actor: Person, pieces: Iterable[Piece], place: str) -> list[Piece]:
    """Pieces are put somewhere: a table, a box, a shelf. Raises NotAllowed, InvalidInput or Over."""
    put = _taken_up(actor, pieces)
    if not 0 < len(place.strip()) <= LONGEST_PLACE:
        raise InvalidInput(
            field="place",
            problem=said("Say where, in at most {longest} characters.", longest=LONGEST_PLACE),
        )
    for piece in put:
        if piece.state in GONE:
            raise _over(piece)
    for state in dict.fromkeys(PieceState(piece.state) for piece in put):
        here = PieceState.HERE if state == PieceState.EXPECTED else state
        let_go_on([piece for piece in put if piece.state == state], here, by=actor, place=place.strip())
    _note(actor, put, "put", place.strip())
    return put


@one_write
def damaged(*, actor: Person, piece: Piece, damage: str, lost: bool = False) -> Piece:
    """Damage to a piece is noted, and its maker is told; one that is lost is waited for no more.

    Raises NotAllowed, InvalidInput or Over.
    """
    (piece,) = _taken_up(actor, [piece])
    if not 0 < len(damage.strip()) <= LONGEST_DAMAGE:
        raise InvalidInput(
            field="damage",
            problem=said("Say what happened to it, in at most {longest} characters.", longest=LONGEST_DAMAGE),
        )
    if piece.state in GONE:
        raise _over(piece)
    piece.damage = damage.strip()
    piece.save(update_fields=["damage"])
    was, state = piece.state, PieceState.LOST if lost else PieceState(piece.state)
    let_go_on([piece], state, by=actor, note=piece.damage)
    _tell_damaged(piece, lost=lost)
    if lost and piece.job is not None and was != PieceState.READY:
        tell_ready(piece.job, [(whose(piece), studio_of(piece))])
    _settle([piece])
    _note(actor, [piece], "lost" if lost else "damage", piece.damage)
    return piece


@one_write
def found_again(*, actor: Person, piece: Piece, place: str) -> Piece:
    """What was lost is at the studio after all. Raises NotAllowed, InvalidInput or Over."""
    (piece,) = _taken_up(actor, [piece])
    if piece.state != PieceState.LOST:
        raise Over(what=said("The piece {label}", label=piece.label), why=said("is not lost"))
    let_go_on([piece], PieceState.HERE, by=actor, place=place.strip())
    _settle([piece])
    _note(actor, [piece], "found", place.strip())
    return piece


@one_write
def hand_over(*, actor: Person, pieces: Iterable[Piece], signed_by: str = "") -> list[Piece]:
    """Pieces that are ready are handed over: who took them signs, who gave them is noted.

    Raises NotAllowed, InvalidInput or Over.
    """
    given = _taken_up(actor, pieces)
    if len(signed_by.strip()) > LONGEST_SIGNED:
        raise InvalidInput(
            field="signed_by",
            problem=said("A name has at most {longest} characters.", longest=LONGEST_SIGNED),
        )
    for piece in given:
        if piece.state != PieceState.READY:
            raise _over(piece)
        piece.handed_over_at, piece.handed_by = timezone.now(), actor
        piece.signed_by = signed_by.strip() or whose(piece).name
    let_go_on(
        given, PieceState.HANDED_OVER, by=actor, place="", note=said("to {who}", who=given[0].signed_by)
    )
    _settle(given)
    _collected(actor, given, signed_by.strip())
    _note(actor, given, "hand-over", given[0].signed_by)
    return given


@one_write
def take_back(*, actor: Person, piece: Piece, place: str) -> Piece:
    """A piece was not handed over after all. Raises NotAllowed or Over."""
    (piece,) = _taken_up(actor, [piece])
    if piece.state != PieceState.HANDED_OVER:
        raise Over(what=said("The piece {label}", label=piece.label), why=said("is not handed over"))
    piece.handed_over_at, piece.handed_by, piece.signed_by = None, None, ""
    let_go_on([piece], PieceState.READY, by=actor, place=place.strip())
    _settle([piece])
    _collected(actor, [piece], "")
    _note(actor, [piece], "not-handed-over", place.strip())
    return piece


def _taken_up(actor: Person, pieces: Iterable[Piece]) -> list[Piece]:
    """The pieces as they stand, locked, for whoever hands out at their studio. Raises NotAllowed or Over."""
    keys = [piece.pk for piece in pieces]
    rows = Piece.objects.filter(pk__in=keys).select_related("job__owner", "session__studio", "maker")
    found = list(rows.order_by("pk"))
    if not found:
        raise InvalidInput(field="pieces", problem=said("Say which pieces: at least one."))
    for studio in dict.fromkeys(studio_of(piece) for piece in found):
        if not may(actor, "hand-out", studio):
            raise NotAllowed(
                who=actor.name, what=said("see to the pieces"), studio=studio.name, role=said("technician")
            )
    lock(
        sessions=[piece.session_id for piece in found if piece.session_id],
        jobs=[piece.job_id for piece in found if piece.job_id],
    )
    return list(rows.order_by("number", "pk"))


def _over(piece: Piece) -> Over:
    why = {
        PieceState.EXPECTED: said("has not come yet"),
        PieceState.HERE: said("is not ready yet"),
        PieceState.IN_KILN: said("is in the kiln"),
        PieceState.READY: said("is ready"),
        PieceState.HANDED_OVER: said("is handed over already"),
        PieceState.LOST: said("is broken or lost"),
    }
    return Over(what=said("The piece {label}", label=piece.label), why=why[PieceState(piece.state)])


def _settle(pieces: Sequence[Piece]) -> None:
    close_when_over(dict.fromkeys(piece.job for piece in pieces if piece.job is not None))


def _collected(actor: Person, pieces: Sequence[Piece], signed_by: str) -> None:
    """A person's pieces of a load are collected once the last of them is, and not before."""
    stands = {(piece.pk, whose(piece).pk) for piece in pieces}
    rows = Collection.objects.filter(
        person__in={person for _, person in stands},
        pick_up__load__stands__piece__in={piece for piece, _ in stands},
    ).distinct()
    for row in rows.select_related("person", "pick_up"):
        inside = Piece.objects.filter(stands__load=row.pick_up.load_id).exclude(state=PieceState.LOST)
        theirs = [
            piece for piece in inside.select_related("job__owner", "maker") if whose(piece) == row.person
        ]
        whole = all(piece.state == PieceState.HANDED_OVER for piece in theirs)
        if whole == (row.collected_at is not None):
            continue
        row.collected_at, row.noted_by = (timezone.now(), actor) if whole else (None, None)
        row.signed_by = signed_by if whole else ""
        row.save(update_fields=["collected_at", "noted_by", "signed_by"])


def _tell_damaged(piece: Piece, *, lost: bool) -> None:
    studio, facts = studio_of(piece), {"label": piece.label, "what": _of(piece), "damage": piece.damage}
    one = said("The piece {label} ({what}) at {studio} is damaged: {damage}.", studio=studio.name, **facts)
    none = said(
        "The piece {label} ({what}) at {studio} is broken or lost: {damage}.", studio=studio.name, **facts
    )
    tell(person=whose(piece), subject=said("Damaged: {label}", label=piece.label), body=none if lost else one)


def _of(piece: Piece) -> str:
    return piece.job.title if piece.job is not None else piece.session.course.name  # type: ignore[union-attr]


def _note(actor: Person, pieces: Sequence[Piece], did: str, what: str) -> None:
    """One piece is noted by itself, several by what they belong to."""
    first = pieces[0]
    noted = f"{_of(first)}, {', '.join(piece.label for piece in pieces)}: {what}"
    audit.note(actor=actor, did=did, subject=first, studio=studio_of(first), said=noted)
