"""Pieces beside those that stand on the shelves of a firing already: nothing that stands is moved."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence

from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.packing import Footprint, Placed, Shelf, fits_beside

# Up to so many millimetres; what is above the last is one class. Common practice, no source.
CLASSES_MM = (3, 6, 9, 12, 19, 25)
# By the shelf, from below: what stands there, each as it stands.
Standing = dict[int, list[tuple[Footprint, Placed]]]


def thickness_class(thickness_mm: float) -> int:
    """Pieces of one class are fired together."""
    return bisect_left(CLASSES_MM, thickness_mm)


def laid_beside(
    standing: Iterable[StandPlanned], pieces: Sequence[Footprint], shelf: Shelf, levels: int
) -> tuple[StandPlanned, ...] | None:
    """Where each piece can stand beside what stands there, with the spacing to it; None where not all can.

    All together on the lowest shelf that takes them; else one by one, the largest first. So there may be room
    that is not found.
    """
    on: Standing = defaultdict(list)
    for stand in standing:
        on[stand.level].append(_as_it_stands(stand))
    for level in range(1, levels + 1):
        together = fits_beside(pieces, shelf, on[level], number=level)
        if together is not None:
            return tuple(_stand(pieces[each.piece], each) for each in together)
    return _one_by_one(on, pieces, shelf, levels)


def _one_by_one(
    on: Standing, pieces: Sequence[Footprint], shelf: Shelf, levels: int
) -> tuple[StandPlanned, ...] | None:
    found: dict[int, StandPlanned] = {}
    for number in sorted(range(len(pieces)), key=lambda one: -pieces[one].area_mm2):
        piece = pieces[number]
        ways = (fits_beside([piece], shelf, on[level], number=level) for level in range(1, levels + 1))
        place = next((way[0] for way in ways if way), None)
        if place is None:
            return None
        on[place.shelf].append((piece, place))
        found[number] = _stand(piece, place, number)
    return tuple(found[number] for number in sorted(found))


def _as_it_stands(stand: StandPlanned) -> tuple[Footprint, Placed]:
    footprint = Footprint(length_mm=stand.length_mm, width_mm=stand.width_mm, round=stand.round)
    at = Placed(piece=stand.piece, shelf=stand.level, x_mm=stand.x_mm, y_mm=stand.y_mm, turned=False)
    return footprint, at


def _stand(piece: Footprint, place: Placed, number: int | None = None) -> StandPlanned:
    length, width = piece.sides(turned=place.turned)
    return StandPlanned(
        piece=place.piece if number is None else number,
        level=place.shelf,
        x_mm=place.x_mm,
        y_mm=place.y_mm,
        length_mm=length,
        width_mm=width,
        round=piece.round,
    )
