"""The fewest shelves by trying everything, on shelves ruled into squares. It shares no code with the engine.

Sides are whole numbers of squares, spacing counted. Pushed to the front and to the left as far as it
goes, any layout has all its corners on the rules, so filling square after square misses none.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations

from scheduling.engine.packing import Footprint, Shelf

RULE_MM, SPACING_MM, MARGIN_MM = 50, 6, 10
Sides = tuple[int, int]


def ruled_shelf(length: int, width: int) -> Shelf:
    """So many squares that, with the spacing around pieces, they are filled exactly."""
    over = 2 * MARGIN_MM - SPACING_MM
    return Shelf(
        length_mm=length * RULE_MM + over,
        width_mm=width * RULE_MM + over,
        margin_mm=MARGIN_MM,
        spacing_mm=SPACING_MM,
    )


def ruled_piece(length: int, width: int) -> Footprint:
    """So many squares with its spacing."""
    return Footprint(length_mm=length * RULE_MM - SPACING_MM, width_mm=width * RULE_MM - SPACING_MM)


def fewest(pieces: Sequence[Sides], room: Sides) -> int:
    """The fewest shelves of all ways to part the pieces into loads that fit on one."""
    everyone = (1 << len(pieces)) - 1
    loads = list(_loads(pieces, room))

    @cache
    def shelves(left: int) -> int:
        if not left:
            return 0
        first = left & -left
        return 1 + min(shelves(left & ~load) for load in loads if load & first and not load & ~left)

    return shelves(everyone)


def layable(pieces: Sequence[Sides], room: Sides) -> list[tuple[int, ...]]:
    """Every set of pieces that fits on one shelf, by index."""
    return [tuple(n for n in range(len(pieces)) if load >> n & 1) for load in _loads(pieces, room)]


def _loads(pieces: Sequence[Sides], room: Sides) -> Iterator[int]:
    """All of them, as bits; a load fits only if it does without any one of its pieces."""
    known = {0}
    for size in range(1, len(pieces) + 1):
        found = set()
        for chosen in combinations(range(len(pieces)), size):
            load = sum(1 << n for n in chosen)
            if all(load & ~(1 << n) in known for n in chosen) and fits(
                tuple(sorted(pieces[n] for n in chosen)), room
            ):
                found.add(load)
        if not found:
            return
        yield from found
        known |= found


@cache
def fits(pieces: tuple[Sides, ...], room: Sides) -> bool:
    """Whether all stand on one shelf in any way."""
    spare = room[0] * room[1] - sum(length * width for length, width in pieces)
    return spare >= 0 and _filled((0,) * room[1], pieces, spare, room[0])


def _filled(rows: tuple[int, ...], left: tuple[Sides, ...], spare: int, length: int) -> bool:
    """The first free square is the corner of some piece, or stays free."""
    if not left:
        return True
    y = next((y for y, row in enumerate(rows) if row != (1 << length) - 1), None)
    if y is None:
        return False
    x = next(x for x in range(length) if not rows[y] >> x & 1)
    for piece in dict.fromkeys(left):
        rest = list(left)
        rest.remove(piece)
        for sides in {piece, piece[::-1]}:
            laid = _laid(rows, x, y, sides, length)
            if laid is not None and _filled(laid, tuple(rest), spare, length):
                return True
    wasted = (*rows[:y], rows[y] | 1 << x, *rows[y + 1 :])
    return spare > 0 and _filled(wasted, left, spare - 1, length)


def _laid(rows: tuple[int, ...], x: int, y: int, sides: Sides, length: int) -> tuple[int, ...] | None:
    if x + sides[0] > length or y + sides[1] > len(rows):
        return None
    squares = ((1 << sides[0]) - 1) << x
    if any(rows[n] & squares for n in range(y, y + sides[1])):
        return None
    return tuple(row | squares if y <= n < y + sides[1] else row for n, row in enumerate(rows))
