"""Pieces beside those that stand on the shelves of a firing already: nothing that stands is moved."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.packing import Footprint, Shelf

# Up to so many millimetres; what is above the last is one class. Common practice, no source.
CLASSES_MM = (3, 6, 9, 12, 19, 25)


def thickness_class(thickness_mm: float) -> int:
    """Pieces of one class are fired together."""
    return bisect_left(CLASSES_MM, thickness_mm)


@dataclass(frozen=True, kw_only=True)
class Standing:
    """What stands on a shelf: the box that it takes."""

    level: int
    x_mm: int
    y_mm: int
    length_mm: int
    width_mm: int


def fits_beside(
    standing: Sequence[Standing], pieces: Sequence[Footprint], shelf: Shelf, levels: int
) -> tuple[StandPlanned, ...] | None:
    """Where each piece can stand beside what stands there, with the spacing to it; None where not all can.

    The largest comes first, each as far in front on the left of the lowest shelf as it goes. So there may be
    room that is not found.
    """
    taken, found = list(standing), []
    for number in sorted(range(len(pieces)), key=lambda one: -pieces[one].area_mm2):
        stand = next(_free(taken, number, pieces[number], shelf, levels), None)
        if stand is None:
            return None
        found.append(stand)
        taken.append(_as_standing(stand))
    return tuple(sorted(found, key=lambda stand: stand.piece))


def _free(
    taken: Sequence[Standing], number: int, piece: Footprint, shelf: Shelf, levels: int
) -> Iterator[StandPlanned]:
    ways = dict.fromkeys((piece.sides(turned=False), piece.sides(turned=True)))
    for level in range(1, levels + 1):
        here = [one for one in taken if one.level == level]
        xs = _edges([one.x_mm + one.length_mm for one in here], shelf)
        ys = _edges([one.y_mm + one.width_mm for one in here], shelf)
        for y in ys:
            for x in xs:
                for length, width in ways:
                    box = Standing(level=level, x_mm=x, y_mm=y, length_mm=length, width_mm=width)
                    if _within(box, shelf) and not any(_meet(box, one, shelf) for one in here):
                        yield _planned(number, box, piece)


def _edges(ends: Sequence[int], shelf: Shelf) -> list[int]:
    """Against the margin, or the spacing away from something."""
    return sorted({shelf.margin_mm, *(end + shelf.spacing_mm for end in ends)})


def _within(box: Standing, shelf: Shelf) -> bool:
    margin = shelf.margin_mm
    return (
        box.x_mm + box.length_mm <= shelf.length_mm - margin
        and box.y_mm + box.width_mm <= shelf.width_mm - margin
    )


def _meet(box: Standing, other: Standing, shelf: Shelf) -> bool:
    """Whether less than the spacing is between two boxes."""
    gap = shelf.spacing_mm
    along = box.x_mm < other.x_mm + other.length_mm + gap and other.x_mm < box.x_mm + box.length_mm + gap
    return (
        along and box.y_mm < other.y_mm + other.width_mm + gap and other.y_mm < box.y_mm + box.width_mm + gap
    )


def _planned(number: int, box: Standing, piece: Footprint) -> StandPlanned:
    return StandPlanned(
        piece=number,
        level=box.level,
        x_mm=box.x_mm,
        y_mm=box.y_mm,
        length_mm=box.length_mm,
        width_mm=box.width_mm,
        round=piece.round,
    )


def _as_standing(stand: StandPlanned) -> Standing:
    return Standing(
        level=stand.level,
        x_mm=stand.x_mm,
        y_mm=stand.y_mm,
        length_mm=stand.length_mm,
        width_mm=stand.width_mm,
    )
