"""Which threes and fours stand together, and the bound by them, beside judges that know shapes alone."""

from __future__ import annotations

import random
from collections import Counter
from itertools import combinations, combinations_with_replacement
from math import ceil, floor

import numpy as np
import pytest

from scheduling.engine.packing.covering import NEARLY
from scheduling.engine.packing.fitting import Fitting
from scheduling.engine.packing.loads import every_load
from scheduling.engine.packing.nesting import laid_nested
from scheduling.engine.packing.pushing import pushed
from scheduling.engine.packing.sharing import Sharing
from scheduling.engine.packing.spaced import Spaced, spaced
from tests.engine.packing.exhaustive import RULE_MM, Sides, fewest, fits, ruled_piece, ruled_shelf
from tests.engine.packing.shelves import BARE, a_shelf, rounds, some_pieces

# The largest diameter of so many equal circles in a square of side 1: J. Schaer, The densest packing of nine
# circles in a square, Canad. Math. Bull. 8 (1965) 273-277, and what he says of fewer. From memory.
THREE, FOUR = 0.508666, 0.5


def sets_of(what: Spaced, size: int) -> list[tuple[int, ...]]:
    """So many kinds each, no more often than there are pieces, each two of which can stand."""
    return [
        kinds
        for kinds in combinations_with_replacement(range(len(what.kinds)), size)
        if all(often <= len(what.kinds[kind].pieces) for kind, often in Counter(kinds).items())
        and not any(other in what.excluding[one] for one, other in combinations(kinds, 2))
    ]


def ruled(at_random: random.Random) -> tuple[Spaced, list[Sides], Sides]:
    """Pieces on a shelf that is ruled into squares, by kind."""
    room = (at_random.randint(4, 9), at_random.randint(4, 9))
    pieces = [
        (at_random.randint(1, min(room[0], 6)), at_random.randint(1, min(room[1], 6)))
        for _ in range(at_random.randint(5, 9))
    ]
    what = spaced([ruled_piece(*piece) for piece in pieces], ruled_shelf(*room))
    return what, [pieces[kind.pieces[0]] for kind in what.kinds], room


def asked(what: Spaced) -> tuple[Fitting, list[tuple[int, ...]], list[tuple[int, ...]]]:
    """All threes, and all fours each three of which can stand."""
    fitting = Fitting(what)
    threes = sets_of(what, 3)
    found = fitting.ask_threes(np.array(threes, dtype=int).reshape(-1, 3))
    stand = {three for three, yes in zip(threes, found, strict=True) if yes}
    fours = [four for four in sets_of(what, 4) if all(three in stand for three in combinations(four, 3))]
    fitting.ask_fours(np.array(fours, dtype=int).reshape(-1, 4), most=len(fours))
    return fitting, threes, fours


def test_threes_of_rectangles_stand_exactly_where_trying_everything_says_so() -> None:
    at_random = random.Random("threes")
    seen = Counter[bool]()
    for _ in range(40):
        what, pieces, room = ruled(at_random)

        fitting, threes, _ = asked(what)

        for three in threes:
            stand = fits(tuple(sorted(pieces[kind] for kind in three)), room)
            assert fitting.threes[three] == stand
            seen[stand] += 1

    assert min(seen.values()) > 100


def test_fours_of_rectangles_that_are_refused_cannot_stand() -> None:
    """Of those that cannot, nearly all are refused."""
    at_random = random.Random("fours")
    seen = Counter[tuple[bool, bool]]()
    for _ in range(40):
        what, pieces, room = ruled(at_random)

        fitting, _, fours = asked(what)

        for four in fours:
            stand = fits(tuple(sorted(pieces[kind] for kind in four)), room)
            seen[stand, bool(fitting.refused[four])] += 1

    assert seen[True, True] == 0
    assert seen[False, True] > 20 * seen[False, False]


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_what_is_refused_is_never_laid_and_nearly_all_else_is(share: float) -> None:
    """Threes and fours of rounds and rectangles, nested and thrown."""
    at_random = random.Random(f"together {share}")
    seen = Counter[tuple[int, bool, bool]]()
    for _ in range(12):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.3, most=0.7, up_to=16, share=share)
        what = spaced(pieces, shelf)

        fitting, threes, fours = asked(what)

        for few in [
            *at_random.sample(threes, min(12, len(threes))),
            *at_random.sample(fours, min(12, len(fours))),
        ]:
            refused = bool(fitting.refused[few] if len(few) == 4 else not fitting.threes[few])
            laid = laid_nested(what, few) or pushed(what, few, throws=48)
            seen[len(few), refused, laid is not None] += 1

    for size in (3, 4):
        assert seen[size, True, True] == 0
        assert seen[size, True, False] > 5
        assert seen[size, False, True] > 20 * seen[size, False, False]


@pytest.mark.parametrize(("count", "largest"), [(3, floor(1000 * THREE)), (4, floor(1000 * FOUR))])
def test_equal_rounds_stand_in_a_square_as_large_as_is_known(count: int, largest: int) -> None:
    for across in (largest, largest + 1):
        what = spaced(rounds(count, across), BARE)

        fitting, _, _ = asked(what)

        stand = fitting.threes[0, 0, 0] if count == 3 else not fitting.refused[0, 0, 0, 0]
        assert stand == (across == largest)


def test_the_bound_by_all_loads_is_never_above_the_fewest_shelves() -> None:
    at_random = random.Random("sharing")
    short = Counter[int]()
    for _ in range(60):
        what, _, room = ruled(at_random)
        least = fewest([_squares(what, piece) for piece in what.each], room)
        loads = every_load(what, most=5_000)
        if loads is None:
            continue
        sharing = Sharing(loads)

        first = sharing.solve()
        sharper = sharing.sharpen(work=1.0, until=least + 1)

        assert first - NEARLY <= sharper
        short[least - ceil(sharper - NEARLY)] += 1

    assert min(short) == 0
    assert short[0] > 40


def _squares(what: Spaced, kind: int) -> Sides:
    length, width = what.kinds[kind].ways[0]
    return length // RULE_MM, width // RULE_MM
