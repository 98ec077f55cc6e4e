"""The pieces that people collect, one by one, where they are listed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from django.db.models import QuerySet

from scheduling.models import Collection, Piece, PieceState


def pieces_collected(collections: Iterable[Collection]) -> Mapping[int, Sequence[Piece]]:
    """Of each collection the pieces that go with it, by its key."""
    rows = list(collections)
    jobs = [row.pick_up.load_id for row in rows if row.pick_up.load.job_id is not None]
    classes = [row.pick_up.load.session_id for row in rows if row.pick_up.load.session_id is not None]
    found: dict[tuple[str, int, int], list[Piece]] = defaultdict(list)
    for key, piece in _in_loads(jobs):
        found["load", key, _whose(piece)].append(piece)
    for piece in _pieces().filter(session__in=classes):
        found["class", piece.session_id or 0, _whose(piece)].append(piece)
    return {row.pk: found[_key(row)] for row in rows if _key(row) in found}


def _key(row: Collection) -> tuple[str, int, int]:
    load = row.pick_up.load
    if load.job_id is not None:
        return "load", load.pk, row.person_id
    return "class", load.session_id or 0, row.person_id


def _in_loads(loads: Sequence[int]) -> Iterable[tuple[int, Piece]]:
    pieces = _pieces().filter(stands__load__in=loads).prefetch_related("stands").distinct()
    wanted = set(loads)
    return (
        (stand.load_id, piece) for piece in pieces for stand in piece.stands.all() if stand.load_id in wanted
    )


def _pieces() -> QuerySet[Piece]:
    rows = Piece.objects.exclude(state=PieceState.LOST).select_related("job", "session")
    return rows.order_by("number", "pk")


def _whose(piece: Piece) -> int:
    """Its maker; of makers without an account, who brought it, or who taught the class."""
    if piece.maker_id is not None:
        return piece.maker_id
    return piece.job.owner_id if piece.job is not None else piece.session.instructor_id  # type: ignore[union-attr]
