"""Pieces beside those that stand on the shelves of a firing already: nothing that stands is moved.

Shelves that are laid are filled first; further ones are laid above them where the program lets them stand.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.kiln_work.routes import ROUTES, FiringStep, RouteName
from scheduling.engine.packing import Footprint, Placed, Shelf, fits_beside
from studios.thermal import Recipe

# Up to so many millimetres; what is above the last is one class. Common practice, no source.
CLASSES_MM = (3, 6, 9, 12, 19, 25)
# The route that pieces in one firing of others go by, and which of its firings that is.
GOES_BY = {
    Recipe.FULL_FUSE: (RouteName.FUSE, 1),
    Recipe.SLUMP: (RouteName.FUSE_SLUMP, 2),
    Recipe.TACK_FUSE: (RouteName.TACK, 1),
    Recipe.FIRE_POLISH: (RouteName.PAINT, 1),
    Recipe.KILN_CAST: (RouteName.CAST, 1),
}
# By the shelf, from below: what stands there, each as it stands.
Standing = dict[int, list[tuple[Footprint, Placed]]]


@dataclass(frozen=True, kw_only=True)
class Levels:
    """The shelves for what comes beside, counted from below: from `first` on; those above `laid` are not laid
    yet, and may be up to `most`. Those below `first` are somebody's own."""

    first: int = 1
    laid: int
    most: int


def step_of(recipe: Recipe) -> FiringStep | None:
    """The firing of a route that is such a run; None where nobody asks for it by itself."""
    if recipe not in GOES_BY:
        return None
    route, number = GOES_BY[recipe]
    return ROUTES[route].firings[number - 1]


def thickness_class(thickness_mm: float) -> int:
    """Pieces of one class are fired together."""
    return bisect_left(CLASSES_MM, thickness_mm)


def laid_beside(
    standing: Iterable[StandPlanned], pieces: Sequence[Footprint], shelf: Shelf, levels: Levels
) -> tuple[StandPlanned, ...] | None:
    """Where each piece can stand beside what stands there, with the spacing to it; None where not all can.

    On as few further shelves as are found to do. So there may be room that is not found.
    """
    on: Standing = defaultdict(list)
    for stand in standing:
        on[stand.level].append(_as_it_stands(stand))
    for top in range(levels.laid, levels.most + 1):
        found = _within(on, pieces, shelf, range(levels.first, top + 1), further=top > levels.laid)
        if found is not None:
            return found
    return None


def _within(
    on: Standing, pieces: Sequence[Footprint], shelf: Shelf, levels: range, *, further: bool
) -> tuple[StandPlanned, ...] | None:
    """All together on the lowest shelf that takes them, or one by one: with a further shelf that way first,
    so that those which are laid are filled."""
    ways = (_one_by_one, _together) if further else (_together, _one_by_one)
    found = (way(on, pieces, shelf, levels) for way in ways)
    return next((stands for stands in found if stands is not None), None)


def _together(
    on: Standing, pieces: Sequence[Footprint], shelf: Shelf, levels: range
) -> tuple[StandPlanned, ...] | None:
    ways = (fits_beside(pieces, shelf, on.get(level, ()), number=level) for level in levels)
    found = next((way for way in ways if way is not None), None)
    return None if found is None else tuple(_stand(pieces[each.piece], each) for each in found)


def _one_by_one(
    on: Standing, pieces: Sequence[Footprint], shelf: Shelf, levels: range
) -> tuple[StandPlanned, ...] | None:
    """The largest first, each on the lowest shelf that takes it."""
    filled: Standing = defaultdict(list, {level: list(there) for level, there in on.items()})
    found: dict[int, StandPlanned] = {}
    for number in sorted(range(len(pieces)), key=lambda one: -pieces[one].area_mm2):
        piece = pieces[number]
        ways = (fits_beside([piece], shelf, filled[level], number=level) for level in levels)
        place = next((way[0] for way in ways if way), None)
        if place is None:
            return None
        filled[place.shelf].append((piece, place))
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
