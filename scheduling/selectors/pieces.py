"""Pieces: whose they are, where they are, and what of them somebody may see."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Q, QuerySet

from scheduling.models import KilnJob, Piece, PieceEvent, PieceState, Stand
from studios.models import Person, Studio
from studios.selectors import studios_where

GONE = (PieceState.HANDED_OVER, PieceState.LOST)


def pieces_seen_by(person: Person) -> QuerySet[Piece]:
    """One's own pieces, those of one's own kiln jobs, and everybody's where one hands them out."""
    minded = studios_where(person, "hand-out").order_by().values("pk")
    jobs = Q(job__owner=person) | Q(job__studios__in=minded)
    found = Piece.objects.filter(Q(maker=person) | jobs | Q(session__studio__in=minded))
    return _pieces().filter(pk__in=found.order_by().values("pk"))


def _pieces() -> QuerySet[Piece]:
    related = ("job__owner", "session__course", "session__studio", "maker", "size__mould", "handed_by")
    return Piece.objects.select_related(*related).order_by("job", "session", "number", "pk")


def own_made(person: Person) -> QuerySet[Piece]:
    """What a person made that is still at a studio, or on its way there."""
    return _pieces().filter(maker=person).exclude(state__in=GONE)


def pieces_to_fire(job: KilnJob) -> QuerySet[Piece]:
    """The pieces of a kiln job that are fired, as they are numbered: a plan counts them in this order."""
    return job.pieces.exclude(state__in=GONE).select_related("size__mould").order_by("number")


def studio_of(piece: Piece) -> Studio:
    """Where a piece is, or is to be: where it was fired last, or is fired next; else where it may be."""
    if piece.session is not None:
        return piece.session.studio
    stand = piece.stands.select_related("load__firing__equipment__studio").order_by("-load__in_from").first()
    if stand is not None:
        return stand.load.firing.equipment.studio
    found = piece.job.studios.order_by("pk").first() if piece.job is not None else None
    if found is None:
        raise ValueError("a piece of a kiln job has a studio that may fire it")
    return found


def studios_fired_at(pieces: Iterable[Piece]) -> dict[int, int]:
    """Of each piece that stands in a load the studio of the last one."""
    rows = Stand.objects.filter(piece__in=list(pieces)).order_by("load__in_from", "pk")
    return dict(rows.values_list("piece", "load__firing__equipment__studio"))


def events_of(piece: Piece) -> QuerySet[PieceEvent]:
    """What happened to a piece, the first first."""
    return piece.events.select_related("by").order_by("at", "pk")
