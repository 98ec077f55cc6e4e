"""What stands on a shelf as one: a piece, or a mould with the pieces that sink into it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scheduling.engine.kiln_work.asked import MouldAsked, PieceAsked
from scheduling.engine.kiln_work.routes import FiringStep
from scheduling.engine.packing import Footprint


@dataclass(frozen=True, kw_only=True)
class Stood:
    """A piece by itself, or a mould with its pieces. Pieces are known by their place in what was asked."""

    footprint: Footprint
    pieces: tuple[int, ...]
    mould: MouldAsked | None = None


def stood_in(step: FiringStep, asked: Sequence[PieceAsked], pieces: Iterable[int]) -> tuple[Stood, ...]:
    """Some pieces as they stand in a firing, each mould filled before the next one is taken."""
    bare: list[Stood] = []
    moulded: dict[MouldAsked, list[int]] = {}
    for piece in pieces:
        mould = asked[piece].mould if step.in_moulds else None
        if mould is None:
            bare.append(Stood(footprint=asked[piece].footprint, pieces=(piece,)))
        else:
            moulded.setdefault(mould, []).append(piece)
    return (*bare, *(each for mould, own in moulded.items() for each in _filled(mould, own)))


def _filled(mould: MouldAsked, pieces: Sequence[int]) -> Iterator[Stood]:
    for first in range(0, len(pieces), mould.holds):
        own = tuple(pieces[first : first + mould.holds])
        yield Stood(footprint=mould.footprint, pieces=own, mould=mould)


def with_pieces(one: Stood, pieces: Iterable[int]) -> Stood:
    """The same with other pieces in its place."""
    return replace(one, pieces=tuple(pieces))


def taken_cm2(footprints: Iterable[Footprint], spacing_mm: int) -> int:
    """What all of it takes of a kiln, rounded up."""
    return math.ceil(sum(with_spacing_mm2(each, spacing_mm) for each in footprints) / 100)


def with_spacing_mm2(footprint: Footprint, spacing_mm: int) -> float:
    """What something takes of a shelf with half of the room that is kept free on each of its sides."""
    length, width = footprint.length_mm + spacing_mm, footprint.width_mm + spacing_mm
    return math.pi / 4 * length**2 if footprint.round else float(length * width)
