"""Pieces: where they are, what happened to them, and that they were handed over."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from rest_framework import serializers
from rest_framework.decorators import action

from scheduling.api.fields import UidField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.pieces import HandOver, NoteDamage, PieceSerializer, PutPieces
from scheduling.models import Piece, PieceState
from scheduling.selectors import visible
from scheduling.selectors.kiln_jobs import jobs_seen_by
from scheduling.selectors.pieces import pieces_seen_by
from scheduling.services.pieces import damaged, hand_over, place_pieces
from studios.models import Person


class PieceQuery(PageQuery):
    """Which pieces."""

    job = UidField(among=jobs_seen_by, what="kiln job", required=False)
    session = UidField(among=visible.sessions_of, what="session", required=False)
    state = serializers.ChoiceField(choices=PieceState.choices, required=False)


class PieceView(Resource):
    """Pieces you made or sent, and everybody's at the studios where you hand them out."""

    lookup_field = "uid"
    lookup_value_converter = "uuid"

    @operation(answer=PieceSerializer, query=PieceQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[Piece]:
        """Pieces by kiln job or class, as they are numbered."""
        found = pieces_seen_by(person)
        return found.filter(**{name: given[name] for name in ("job", "session", "state") if name in given})

    @operation(answer=PieceSerializer)
    def retrieve(self, person: Person, _given: dict[str, Any], uid: UUID) -> Piece:
        """One piece."""
        return _piece(person, uid)

    @action(detail=False, methods=["post"])
    @operation(status=204, body=PutPieces, repeatable=True, refuses=(409, 422))
    def put(self, person: Person, given: dict[str, Any]) -> None:
        """Say where pieces lie now."""
        place_pieces(actor=person, **given)

    @action(detail=False, methods=["post"], url_path="hand-over")
    @operation(status=204, body=HandOver, repeatable=True, refuses=(409, 422))
    def hand_over(self, person: Person, given: dict[str, Any]) -> None:
        """Hand pieces over that are ready."""
        hand_over(actor=person, **given)

    @action(detail=True, methods=["post"])
    @operation(answer=PieceSerializer, body=NoteDamage, repeatable=True, refuses=(409, 422))
    def damage(self, person: Person, given: dict[str, Any], uid: UUID) -> Piece:
        """Note damage to a piece; its maker is told."""
        return damaged(actor=person, piece=_piece(person, uid), **given)


def _piece(person: Person, uid: UUID) -> Piece:
    return get_object_or_404(pieces_seen_by(person), uid=uid)
