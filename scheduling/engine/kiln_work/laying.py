"""Pieces laid on shelves of one kind, and shelves put into loads: as many as a kiln takes on posts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import accumulate

from scheduling.engine.kiln_work.asked import MouldAsked
from scheduling.engine.kiln_work.routes import FiringStep
from scheduling.engine.kiln_work.stood import Stood, with_spacing_mm2
from scheduling.engine.packing import Footprint, Packing, Placed, Shelf, TooLarge, pack


@dataclass(frozen=True, kw_only=True)
class ShelfKind:
    """Kilns of one studio whose shelves are alike: what is laid out for one of them fits each."""

    studio_id: int
    shelf: Shelf
    levels: int
    kiln_ids: tuple[int, ...]

    @property
    def room_mm2(self) -> int:
        """What one shelf has for pieces with the room between them, in a pattern without end."""
        length, width = self.shelf.usable_mm
        return (length + self.shelf.spacing_mm) * (width + self.shelf.spacing_mm)

    def levels_in(self, step: FiringStep) -> int:
        """The shelves that one load takes: on posts only where the program allows it."""
        return self.levels if step.stacks else 1


OnShelf = tuple[Stood, Placed]
Packed = tuple[Shelf, tuple[Footprint, ...], float]
# What may be tried for one packing, in seconds of a core: to see how much a load takes, and to lay it out.
QUICK, CAREFUL = 0.04, 0.4
# Where moulds are too few for one load, so many more parts than they must be are tried.
MORE_PARTS = 3


@dataclass(frozen=True, kw_only=True)
class LoadLaid:
    """One load: what stands where on each of its shelves, from below."""

    step: int
    kind: ShelfKind
    shelves: tuple[tuple[OnShelf, ...], ...]

    @property
    def stood(self) -> tuple[Stood, ...]:
        return tuple(one for shelf in self.shelves for one, _ in shelf)

    @property
    def pieces(self) -> tuple[int, ...]:
        """Which pieces are in it, in the order in which they were asked for."""
        return tuple(sorted(piece for one in self.stood for piece in one.pieces))

    @property
    def moulds(self) -> Counter[int]:
        """How many moulds of each form it takes."""
        return Counter(one.mould.id for one in self.stood if one.mould)


@dataclass(frozen=True, kw_only=True)
class Laid:
    """Pieces laid out for one firing: the loads, and how many shelves they take at least, and why."""

    loads: tuple[LoadLaid, ...]
    bound: int = 0
    bound_by: tuple[str, ...] = ()

    def __add__(self, other: Laid) -> Laid:
        by = tuple(dict.fromkeys((*self.bound_by, *other.bound_by)))
        return Laid(loads=(*self.loads, *other.loads), bound=self.bound + other.bound, bound_by=by)


NOTHING = Laid(loads=())


@dataclass(frozen=True, kw_only=True)
class Laying:
    """One firing of a route, and all that has been laid out for it so far: nothing is packed twice."""

    step: int
    firing: FiringStep
    packed: dict[Packed, Packing | None] = field(default_factory=dict)

    def lay(self, stood: Sequence[Stood], kind: ShelfKind, effort: float = CAREFUL) -> Laid | None:
        """All of it on shelves of one kind; None where something is larger than the shelf."""
        whole = self._on_shelves(stood, kind, effort)
        if whole is None or _moulds_suffice(whole.loads, stood):
            return whole
        least = fewest_parts(stood)
        ways = [_one_after_another(stood), *(_evenly(stood, least + more) for more in range(MORE_PARTS))]
        found = [self._in_parts(parts, kind, effort) for parts in ways]
        return min(found, key=lambda laid: (len(laid.loads), laid.bound))

    def _in_parts(self, parts: Iterable[Sequence[Stood]], kind: ShelfKind, effort: float) -> Laid:
        laid = (self._on_shelves(part, kind, effort) for part in parts if part)
        return sum((part for part in laid if part is not None), start=NOTHING)

    def fits(self, one: Stood, kind: ShelfKind) -> bool:
        """Whether a shelf is large enough for it."""
        return kind.shelf.holds(one.footprint)

    def most(self, stood: Sequence[Stood], kind: ShelfKind, loads: int) -> int:
        """How many of these, from the first on, so many loads take."""
        room = loads * kind.levels_in(self.firing) * kind.room_mm2
        covered = accumulate(with_spacing_mm2(one.footprint, kind.shelf.spacing_mm) for one in stood)
        low, high = 0, sum(area <= room for area in covered)
        while low < high:
            middle = (low + high + 1) // 2
            laid = self.lay(stood[:middle], kind, QUICK)
            if laid is not None and len(laid.loads) <= loads:
                low = middle
            else:
                high = middle - 1
        return low

    def _on_shelves(self, stood: Sequence[Stood], kind: ShelfKind, effort: float) -> Laid | None:
        order = sorted(stood, key=_by_size)
        packing = self._pack(tuple(one.footprint for one in order), kind.shelf, effort)
        if packing is None:
            return None
        shelves: list[tuple[OnShelf, ...]] = [()] * packing.shelves
        for placed in packing.placed:
            shelves[placed.shelf] += ((order[placed.piece], placed),)
        levels = kind.levels_in(self.firing)
        loads = (
            LoadLaid(step=self.step, kind=kind, shelves=tuple(shelves[first : first + levels]))
            for first in range(0, len(shelves), levels)
        )
        return Laid(loads=tuple(loads), bound=packing.bound, bound_by=(packing.bound_by,))

    def _pack(self, footprints: tuple[Footprint, ...], shelf: Shelf, effort: float) -> Packing | None:
        key = shelf, footprints, effort
        if key not in self.packed:
            found = pack(footprints, shelf, seconds=effort)
            self.packed[key] = None if isinstance(found, TooLarge) else found
        return self.packed[key]


def _by_size(one: Stood) -> tuple[float, int, int]:
    footprint = one.footprint
    return -footprint.length_mm * footprint.width_mm, -footprint.length_mm, one.pieces[0]


def _moulds_suffice(loads: Sequence[LoadLaid], stood: Sequence[Stood]) -> bool:
    """Whether no load takes more moulds of a form than there are."""
    count = {one.mould.id: one.mould.count for one in stood if one.mould}
    return all(taken <= count[form] for load in loads for form, taken in load.moulds.items())


def _by_form(stood: Iterable[Stood]) -> dict[MouldAsked | None, list[Stood]]:
    found: dict[MouldAsked | None, list[Stood]] = {}
    for one in stood:
        found.setdefault(one.mould, []).append(one)
    return found


def fewest_parts(stood: Iterable[Stood]) -> int:
    """Into how many parts something must be parted at least, so that there are moulds enough for each."""
    return max((-(-len(each) // form.count) for form, each in _by_form(stood).items() if form), default=1)


def _one_after_another(stood: Sequence[Stood]) -> list[list[Stood]]:
    """All moulds of a form in the first part, then all of them once more; what lies bare goes first."""
    parts: list[list[Stood]] = [[] for _ in range(fewest_parts(stood))]
    for form, every in _by_form(stood).items():
        for number, one in enumerate(every):
            parts[number // form.count if form else 0].append(one)
    return parts


def _evenly(stood: Sequence[Stood], count: int) -> list[list[Stood]]:
    """So many parts with as much of each form as of the next."""
    parts: list[list[Stood]] = [[] for _ in range(count)]
    for every in _by_form(stood).values():
        for number, one in enumerate(every):
            parts[number * count // len(every)].append(one)
    return parts
