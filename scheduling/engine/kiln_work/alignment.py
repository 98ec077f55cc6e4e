"""Pieces of one size are alike: those that are done first go on first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from scheduling.engine.kiln_work.laying import LoadLaid, OnShelf
from scheduling.engine.kiln_work.stood import Stood, with_pieces


def aligned(loads: Sequence[LoadLaid], ready: Mapping[int, int]) -> tuple[LoadLaid, ...]:
    """The same loads; into the first go those pieces that are ready first, if they fit."""
    rank = {piece: (minute, piece) for piece, minute in ready.items()}
    queues = {looks: iter(sorted(pieces, key=rank.__getitem__)) for looks, pieces in _alike(loads).items()}
    return tuple(
        replace(load, shelves=tuple(tuple(_filled(shelf, queues)) for shelf in load.shelves))
        for load in loads
    )


def _alike(loads: Iterable[LoadLaid]) -> dict[object, list[int]]:
    found: dict[object, list[int]] = {}
    for load in loads:
        for one in load.stood:
            found.setdefault(_stands_as(one), []).extend(one.pieces)
    return found


def _stands_as(one: Stood) -> object:
    return one.footprint, one.mould.id if one.mould else None


def _filled(shelf: Iterable[OnShelf], queues: Mapping[object, Iterator[int]]) -> Iterator[OnShelf]:
    for one, placed in shelf:
        pieces = queues[_stands_as(one)]
        yield with_pieces(one, (next(pieces) for _ in one.pieces)), placed
