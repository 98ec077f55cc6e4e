"""Rounds stand closer than the squares around them, and what is said to be impossible of them is."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from itertools import combinations, permutations
from math import ceil, cos, floor, hypot, pi, sin, sqrt

import pytest
from shapely import Point

from scheduling.engine.packing import Footprint, Packing, Placed, Shelf, fits_beside
from scheduling.engine.packing.bounds import WHOLE, best, rows
from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.pushing import pushed
from scheduling.engine.packing.refuting import Refuting, directions
from scheduling.engine.packing.spaced import spaced
from scheduling.engine.packing.weighing import weighing
from tests.engine.packing.shelves import a_shelf, faults, shape, some_pieces, standing_faults

BARE = Shelf(length_mm=1000, width_mm=1000, margin_mm=0, spacing_mm=0)
# The largest diameter of so many equal circles in a square of side 1, some by geometry, others as found and
# proven: H. Melissen, Packing and covering with circles (1997), and E. Specht's list of the best known
# packings of equal circles in the unit square. All from memory.
KNOWN = {
    2: 2 - sqrt(2),
    3: 0.508666,
    4: 0.5,
    5: 0.414213,
    6: 0.375361,
    7: 0.348915,
    8: 0.341081,
    9: 1 / 3,
    10: 0.296408,
}


def rounds(count: int, diameter_mm: int) -> list[Footprint]:
    return [Footprint(length_mm=diameter_mm, width_mm=diameter_mm, round=True)] * count


def packed(pieces: list[Footprint], shelf: Shelf) -> Packing:
    packing = pack(pieces, shelf)
    assert isinstance(packing, Packing)
    return packing


@pytest.mark.parametrize("count", KNOWN)
def test_equal_rounds_in_a_square_fit_as_is_known(count: int) -> None:
    packing = packed(rounds(count, floor(985 * KNOWN[count])), BARE)

    assert packing.shelves == packing.bound == 1
    assert faults(packing, packing.pieces, BARE) == []


@pytest.mark.parametrize("count", KNOWN)
def test_equal_rounds_in_a_square_are_never_said_to_fit_where_they_do_not(count: int) -> None:
    packing = packed(rounds(count, ceil(1002 * KNOWN[count])), BARE)

    assert packing.shelves == 2


@pytest.mark.parametrize("count", [2, 3, 4])
def test_a_few_large_rounds_too_many_are_proven_to_be_too_many(count: int) -> None:
    packing = packed(rounds(count, ceil(1010 * KNOWN[count])), BARE)

    assert packing.shelves == packing.bound == 2


@pytest.mark.parametrize("count", KNOWN)
def test_no_proof_goes_against_what_is_known(count: int) -> None:
    """However much work the proof may be: here are rounds that do stand on the shelf."""
    what = spaced(rounds(count, floor(999 * KNOWN[count])), BARE)

    assert not Refuting(what).refuted(what.each)
    assert best(what).shelves == 1


def loads_laid(count: int, rounds: float) -> list[tuple[list[Footprint], Shelf, list[list[int]]]]:
    """Sets of pieces, and which of them stood together on one shelf, as another's geometry says, too."""
    at_random = random.Random(f"laid {rounds}")
    found = []
    for _ in range(count):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.2, most=0.9, up_to=25, rounds=rounds)
        packing = packed(pieces, shelf)
        assert faults(packing, pieces, shelf) == []
        together = defaultdict(list)
        for each in packing.placed:
            together[each.shelf].append(each.piece)
        found.append((pieces, shelf, list(together.values())))
    return found


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_no_shelf_that_was_laid_carries_more_than_its_weight(share: float) -> None:
    for pieces, shelf, loads in loads_laid(15, share):
        what = spaced(pieces, shelf)
        kind_of = {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}

        heaviest = max(
            sum(min(row.weights[kind_of[piece]]) for piece in load) for row in rows(what) for load in loads
        )

        assert heaviest <= WHOLE


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_nothing_that_was_laid_is_refuted(share: float) -> None:
    asked = 0
    for pieces, shelf, loads in loads_laid(15, share):
        what = spaced(pieces, shelf)
        kind_of = {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}
        refuting = Refuting(what)
        for load in loads:
            asked += len(load) > 2
            assert refuting.core(tuple(sorted(kind_of[piece] for piece in load))) is None

    assert asked > 10


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_what_is_forbidden_is_part_of_nothing_that_was_laid(share: float) -> None:
    """Nor is anything larger, piece for piece."""
    forbidden = 0
    for pieces, shelf, loads in loads_laid(15, share):
        what = spaced(pieces, shelf)
        kind_of = {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}
        carrying = weighing(what, []).carrying
        refuting = Refuting(what)
        everything = tuple(sorted(what.each))
        cores = [*refuting.rounds(), *(core for core in [refuting.core(everything)] if core)]
        forbidden += len(cores)
        for core in cores:
            for load in loads:
                kinds = [kind_of[piece] for piece in load]
                assert any(
                    sum(kind in large for kind in kinds) < many for large, many in carrying.larger(core)
                )

    assert forbidden > 10


def test_what_is_forbidden_is_forbidden_to_all_that_is_larger() -> None:
    """By trying which piece may stand for which."""
    what = spaced(
        [Footprint(length_mm=side, width_mm=side, round=True) for side in (300, 320, 340, 360)]
        + [Footprint(length_mm=350, width_mm=310), Footprint(length_mm=345, width_mm=200)],
        BARE,
    )
    carrying = weighing(what, []).carrying
    at_random = random.Random("larger")
    seen = Counter[bool]()

    for _ in range(300):
        core = tuple(sorted(at_random.choices(range(6), k=3)))
        load = at_random.sample(range(6), k=at_random.randint(2, 5))
        stands = any(
            all(small in what.within[large] for small, large in zip(core, chosen, strict=True))
            for chosen in permutations(load, 3)
        )
        assert stands == all(
            sum(kind in large for kind in load) >= many for large, many in carrying.larger(core)
        )
        seen[stands] += 1

    assert min(seen.values()) > 20


@pytest.mark.parametrize("count", [16, 32])
def test_every_way_is_near_one_of_the_directions(count: int) -> None:
    ways, nearly = directions(count)

    for step in range(3600):
        angle = step * pi / 1800
        leads = max((cos(angle) * x + sin(angle) * y) / hypot(x, y) for x, y in ways)
        assert leads >= nearly - 1e-9
    assert {(1000, 0), (0, 1000), (-1000, 0), (0, -1000)} <= set(ways)


def test_what_is_pushed_apart_stands_clear() -> None:
    """Five in a square are tight: one in the middle, four in the corners."""
    what = spaced(rounds(5, 400), BARE)

    laid = pushed(what, what.each)

    assert laid is not None
    placed = [Point((box[0] + box[2]) / 2, (box[1] + box[3]) / 2) for _, box in laid]
    assert min(one.distance(other) for one, other in combinations(placed, 2)) >= 400
    assert all(200 <= at <= 800 for point in placed for at in (point.x, point.y))


def test_rounds_and_rectangles_are_pushed_apart() -> None:
    pieces = [*rounds(2, 450), Footprint(length_mm=450, width_mm=300), Footprint(length_mm=200, width_mm=400)]
    what = spaced(pieces, BARE)

    laid = pushed(what, what.each)

    assert laid is not None
    shapes = [
        shape(
            pieces[what.kinds[kind].pieces[0]],
            Placed(piece=0, shelf=0, x_mm=box[0], y_mm=box[1], turned=turned),
        )
        for kind, box in laid
        for turned in [box[2] - box[0] != pieces[what.kinds[kind].pieces[0]].length_mm]
    ]
    assert standing_faults(shapes, BARE) == []


def test_what_does_not_fit_is_not_pushed_together() -> None:
    what = spaced(rounds(5, 420), BARE)

    assert pushed(what, what.each) is None


def test_a_round_joins_closer_than_its_square() -> None:
    """In the corner opposite another; a square of its size would not do there."""
    (plate,) = rounds(1, 580)
    standing = [(plate, Placed(piece=0, shelf=0, x_mm=0, y_mm=0, turned=False))]

    (joined,) = fits_beside([plate], BARE, standing) or ()

    shapes = [shape(plate, at) for at in (standing[0][1], joined)]
    assert standing_faults(shapes, BARE) == []
    assert fits_beside([Footprint(length_mm=580, width_mm=580)], BARE, standing) is None
    assert fits_beside(rounds(2, 580), BARE, standing) is None


@pytest.mark.parametrize("share", [1.0, 0.5])
def test_small_rounds_take_one_shelf_more_than_their_area_at_most(share: float) -> None:
    """Sides of 12 to 30 % of the shelf's, spacing counted: wanted is 90 sets of a hundred."""
    at_random = random.Random(f"small rounds {share}")
    more = []

    for _ in range(100):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.12, most=0.30, up_to=60, rounds=share)
        more.append(packed(pieces, shelf).shelves - area_bound(pieces, shelf))

    assert min(more) >= 0
    assert sum(one <= 1 for one in more) >= 90


def area_bound(pieces: list[Footprint], shelf: Shelf) -> int:
    spacing = shelf.spacing_mm
    taken = sum(
        (piece.length_mm + spacing) * (piece.width_mm + spacing) * (pi / 4 if piece.round else 1)
        for piece in pieces
    )
    length, width = shelf.usable_mm
    return ceil(taken / ((length + spacing) * (width + spacing)))


def gaps(name: str, *, share: float, sets: int) -> Counter[int]:
    """How many shelves fewer might do, of sets of pieces of any size."""
    at_random = random.Random(name)
    found = Counter[int]()
    for _ in range(sets):
        shelf = a_shelf(at_random)
        pieces = some_pieces(at_random, shelf, least=0.05, most=1.0, up_to=60, rounds=share)
        packing = packed(pieces, shelf)
        assert faults(packing, pieces, shelf) == []
        found[packing.gap] += 1
    return found


def test_rounds_of_any_size_take_one_shelf_more_than_the_bound_at_most() -> None:
    """Nearly always: to prove that large ones cannot stand in threes takes longer than anybody waits."""
    found = gaps("rounds of any size", share=1.0, sets=100)

    assert min(found) >= 0
    assert found[0] + found[1] >= 90


def test_rounds_and_rectangles_of_any_size_take_one_shelf_more_than_the_bound_at_most() -> None:
    """Nearly always: what a round one leaves free beside it counts as room, though little of it is."""
    found = gaps("rounds and rectangles of any size", share=0.5, sets=100)

    assert min(found) >= 0
    assert found[0] + found[1] >= 80
