"""Labels of pieces: short codes that fit on masking tape and are read aloud without doubt."""

from __future__ import annotations

import secrets
from collections.abc import Sequence

from django.db import IntegrityError, transaction

from scheduling.models import Piece, PieceEvent
from studios.models import Person

# Without 0 and O, 1 and I and L: they are told apart neither in handwriting nor aloud.
LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
LENGTH = 5
MOST_TRIES = 5


def new_labels(count: int) -> list[str]:
    """So many labels, each different from the others."""
    found: dict[str, None] = {}
    while len(found) < count:
        found["".join(secrets.choice(LETTERS) for _ in range(LENGTH))] = None
    return list(found)


def write_labelled(pieces: Sequence[Piece], *, by: Person) -> list[Piece]:
    """Store new pieces, all in one insert, each with a label that no other has, and how each begins.

    A label that another piece has already is found by the database; then all of them get others.
    """
    for tries_left in reversed(range(MOST_TRIES)):
        for piece, label in zip(pieces, new_labels(len(pieces)), strict=True):
            piece.label = label
        try:
            with transaction.atomic():
                Piece.objects.bulk_create(pieces)
                break
        except IntegrityError:
            if not tries_left:
                raise
    PieceEvent.objects.bulk_create(
        PieceEvent(piece=piece, at=piece.changed_at, state=piece.state, place=piece.place, by=by)
        for piece in pieces
    )
    return list(pieces)
