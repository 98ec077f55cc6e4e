"""What is laid on the shelves of a kiln, and what came of it. Whole millimetres, seen from above."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from math import pi

from scheduling.errors import InvalidInput


@dataclass(frozen=True, kw_only=True)
class Footprint:
    """One piece as the shelf sees it. A round one has its diameter for both sides."""

    length_mm: int
    width_mm: int
    round: bool = False

    def __post_init__(self) -> None:
        _require_millimetres(self, least=1)
        if self.round and self.length_mm != self.width_mm:
            raise InvalidInput(field="width_mm", problem="A round piece has one diameter for both sides.")

    @property
    def area_mm2(self) -> float:
        """The glass itself."""
        return self.length_mm * self.width_mm * (pi / 4 if self.round else 1.0)

    def sides(self, *, turned: bool) -> tuple[int, int]:
        """Its extent along the shelf's length and along its width."""
        return (self.width_mm, self.length_mm) if turned else (self.length_mm, self.width_mm)


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """A kiln shelf, and how pieces stand on it: parallel to its edges, turned a quarter where that helps.

    Glass keeps a margin to the edge, where the shelf is less evenly hot, and a spacing to its neighbour, to
    which it would fuse otherwise (common practice, no source). Around a rectangle the spacing is a band with
    square corners.
    """

    length_mm: int
    width_mm: int
    margin_mm: int
    spacing_mm: int

    def __post_init__(self) -> None:
        _require_millimetres(self, least=0)
        for field in ("length_mm", "width_mm"):
            if getattr(self, field) <= 2 * self.margin_mm:
                raise InvalidInput(field=field, problem="A shelf is larger than the margin on its two sides.")

    @property
    def usable_mm(self) -> tuple[int, int]:
        """What lies within the margin."""
        return self.length_mm - 2 * self.margin_mm, self.width_mm - 2 * self.margin_mm

    def holds(self, piece: Footprint) -> bool:
        """Whether a piece fits alone, turned or not."""
        length, width = self.usable_mm
        return any(
            sides[0] <= length and sides[1] <= width
            for sides in (piece.sides(turned=False), piece.sides(turned=True))
        )


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Where a piece stands: the corner of its bounding box that is nearest to the shelf's own corner."""

    piece: int
    shelf: int
    x_mm: int
    y_mm: int
    turned: bool


@dataclass(frozen=True, kw_only=True)
class Packing:
    """Each piece once, and how many shelves there must be at least, by which argument.

    `bound_by` is "area", "pairs", "dual feasible" or "cells" (scheduling.engine.packing.bounds), "loads"
    (scheduling.engine.packing.sharing) or "search".
    """

    pieces: tuple[Footprint, ...]
    on: Shelf
    placed: tuple[Placed, ...]
    shelves: int
    bound: int
    bound_by: str

    @property
    def gap(self) -> int:
        """How many shelves fewer might do, for all that is known; with none, fewer do not."""
        return self.shelves - self.bound

    def fill(self, shelf: int) -> float:
        """The share of what lies within the margin of one of the shelves that is covered by glass."""
        length, width = self.on.usable_mm
        covered = sum(self.pieces[each.piece].area_mm2 for each in self.placed if each.shelf == shelf)
        return covered / (length * width)


@dataclass(frozen=True, kw_only=True)
class TooLarge:
    """Pieces, by their index, that fit on no shelf even alone, turned or not."""

    pieces: tuple[int, ...]


def too_large(pieces: Sequence[Footprint], shelf: Shelf) -> TooLarge | None:
    """What must go to another kiln before anything is laid."""
    found = tuple(number for number, piece in enumerate(pieces) if not shelf.holds(piece))
    return TooLarge(pieces=found) if found else None


def _require_millimetres(record: Footprint | Shelf, *, least: int) -> None:
    for field in fields(record):
        value = getattr(record, field.name)
        if isinstance(value, bool) and field.name == "round":
            continue
        if isinstance(value, bool) or not isinstance(value, int) or value < least:
            raise InvalidInput(
                field=field.name, problem=f"{field.name} must be whole millimetres, {least} or more."
            )
