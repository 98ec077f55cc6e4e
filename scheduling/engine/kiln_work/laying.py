"""Pieces laid on shelves of one kind, and shelves put into loads: as many as a kiln takes on posts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from scheduling.engine.kiln_work.asked import MouldAsked
from scheduling.engine.kiln_work.routes import FiringStep
from scheduling.engine.kiln_work.stood import Stood, with_spacing_mm2
from scheduling.engine.packing import Footprint, Packing, Placed, Shelf, TooLarge
from scheduling.engine.packing.laying import FITS, lay_first
from scheduling.engine.packing.pack import pack
from scheduling.engine.packing.spaced import spaced


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
# What may be tried for one packing, in seconds of a core: to lay it out, and to see how much shelves take. Of
# more than many pieces less.
CAREFUL, THRIFTY, MANY = 0.2, 0.06, 40
# So many sizes are laid on so many shelves one after the other, with all care.
FEW_SIZES, FEW_SHELVES = 3, 2
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
    """One firing of a route, and all that has been laid out for it so far: nothing is packed twice.

    Once `stop()` is true the first way to lay something will do.
    """

    step: int
    firing: FiringStep
    stop: Callable[[], bool]
    packed: dict[Packed, Packing | None] = field(default_factory=dict)
    shelf_of: dict[tuple[Shelf, tuple[Footprint, ...]], tuple[int, ...]] = field(default_factory=dict)

    def lay(self, stood: Sequence[Stood], kind: ShelfKind) -> Laid | None:
        """All of it on shelves of one kind; None where something is larger than the shelf."""
        whole = self._on_shelves(stood, kind)
        if whole is None or _moulds_suffice(whole.loads, stood):
            return whole
        least = fewest_parts(stood)
        ways = [_one_after_another(stood), *(_evenly(stood, least + more) for more in range(MORE_PARTS))]
        found = [self._in_parts(parts, kind) for parts in ways]
        return min(found, key=lambda laid: (len(laid.loads), laid.bound))

    def _in_parts(self, parts: Iterable[Sequence[Stood]], kind: ShelfKind) -> Laid:
        laid = (self._on_shelves(part, kind) for part in parts if part)
        return sum((part for part in laid if part is not None), start=NOTHING)

    def fits(self, one: Stood, kind: ShelfKind) -> bool:
        """Whether a shelf is large enough for it."""
        return kind.shelf.holds(one.footprint)

    def taken(self, stood: Sequence[Stood], kind: ShelfKind, loads: int, *, filled: bool) -> list[Stood]:
        """What so many loads take of these, about: the first ones; `filled`: others where they leave room."""
        seen: Counter[int | None] = Counter()
        enough = []
        for one in stood:
            form = one.mould.id if one.mould else None
            seen[form] += 1
            if one.mould is None or seen[form] <= loads * one.mould.count:
                enough.append(one)
        most = loads * kind.levels_in(self.firing)
        if filled and most <= FEW_SHELVES and len({one.footprint for one in enough}) <= FEW_SIZES:
            return self._size_by_size(enough, kind, most)
        footprints = tuple(one.footprint for one in enough)
        shelf_of = self._shelf_of(footprints, kind.shelf)
        if not filled:
            count = next((at for at, shelf in enumerate(shelf_of) if shelf >= most), len(enough))
            return enough[:count]
        return [one for one, shelf in zip(enough, shelf_of, strict=True) if shelf < most]

    def _size_by_size(self, stood: Sequence[Stood], kind: ShelfKind, most: int) -> list[Stood]:
        """Of the first size as many as so many shelves take, of the next as many as go beside them."""
        chosen: list[Stood] = []
        for footprint in dict.fromkeys(one.footprint for one in stood):
            same = [one for one in stood if one.footprint == footprint]
            low, high = 0, len(same)
            while low < high:
                middle = (low + high + 1) // 2
                if self._take([*chosen, *same[:middle]], kind, most):
                    low = middle
                else:
                    high = middle - 1
            chosen += same[:low]
        return chosen

    def _take(self, stood: Sequence[Stood], kind: ShelfKind, most: int) -> bool:
        """Whether so many shelves take all of these."""
        room = most * kind.room_mm2
        if sum(with_spacing_mm2(one.footprint, kind.shelf.spacing_mm) for one in stood) > room:
            return False
        footprints = tuple(one.footprint for one in sorted(stood, key=_by_size))
        packing = self._pack(footprints, kind.shelf, THRIFTY)
        return packing is not None and packing.shelves <= most

    def _shelf_of(self, footprints: tuple[Footprint, ...], shelf: Shelf) -> tuple[int, ...]:
        """On which shelf each lies when they are laid in this order, each on the first that has room."""
        if (shelf, footprints) not in self.shelf_of:
            self.shelf_of[shelf, footprints] = _laid_in_order(footprints, shelf)
        return self.shelf_of[shelf, footprints]

    def _on_shelves(self, stood: Sequence[Stood], kind: ShelfKind) -> Laid | None:
        order = sorted(stood, key=_by_size)
        packing = self._pack(tuple(one.footprint for one in order), kind.shelf)
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

    def _pack(
        self, footprints: tuple[Footprint, ...], shelf: Shelf, effort: float = CAREFUL
    ) -> Packing | None:
        key = shelf, footprints, effort
        if key not in self.packed:
            most = min(1.0, (MANY / max(len(footprints), 1)) ** 2)
            found = pack(footprints, shelf, seconds=effort * most, stop=self.stop)
            self.packed[key] = None if isinstance(found, TooLarge) else found
        return self.packed[key]


def _laid_in_order(footprints: Sequence[Footprint], shelf: Shelf) -> tuple[int, ...]:
    what = spaced(footprints, shelf)
    kind_of = {piece: number for number, kind in enumerate(what.kinds) for piece in kind.pieces}
    layouts = lay_first(what, [kind_of[piece] for piece in range(len(footprints))], FITS[0])
    left = [iter(kind.pieces) for kind in what.kinds]
    found = {next(left[kind]): number for number, laid in enumerate(layouts) for kind, _ in laid}
    return tuple(found[piece] for piece in range(len(footprints)))


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
