"""Pieces: what is sent of them, and how they are shown.

Whoever sees a piece at all has made it, sent it or minds it, and may know its maker.
"""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.api.fields import TextField, TruthField, UidField
from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.api.strict import Strict
from scheduling.models import Piece
from scheduling.selectors.pieces import pieces_seen_by


class PutPieces(Strict):
    """Where pieces are put: a table, a box, a shelf."""

    pieces = serializers.ListField(
        child=UidField(among=pieces_seen_by, what="piece"), allow_empty=False, max_length=500
    )
    place = TextField(max_length=60)


class NoteDamage(Strict):
    """What happened to a piece; `lost`: it is waited for no more."""

    damage = TextField(max_length=200)
    lost = TruthField(default=False)


class HandOver(Strict):
    """Who took pieces that are ready, as they signed; left out: their maker."""

    pieces = serializers.ListField(
        child=UidField(among=pieces_seen_by, what="piece"), allow_empty=False, max_length=500
    )
    signed_by = TextField(max_length=80, required=False, allow_blank=True)


class PieceSerializer(serializers.ModelSerializer[Piece]):
    """A piece of a kiln job or of a class: its label, whose it is, where it is and how."""

    job = serializers.UUIDField(source="job.uid", default=None, allow_null=True, read_only=True)
    session = serializers.UUIDField(source="session.uid", default=None, allow_null=True, read_only=True)
    maker = PersonLineSerializer(read_only=True, allow_null=True)
    size = serializers.SerializerMethodField(help_text="As it came, in mm; null for a piece of a class.")

    class Meta:
        model = Piece
        fields = [
            "uid",
            "label",
            "number",
            "job",
            "session",
            "maker",
            "maker_name",
            "size",
            "state",
            "place",
            "damage",
            "handed_over_at",
            "signed_by",
            "changed_at",
        ]
        read_only_fields = fields

    def get_size(self, piece: Piece) -> dict[str, Any] | None:
        if piece.size is None:
            return None
        size = piece.size
        return {"length_mm": size.length_mm, "width_mm": size.width_mm, "round": size.round}
