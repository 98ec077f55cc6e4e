"""What is asked of the kilns: pieces by size, their glass, their route, and between when and when."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.kiln_work.routes import Handwork, Route
from scheduling.engine.packing import Footprint, Shelf
from scheduling.engine.spans import Span
from studios.thermal import Glass


class Aim(StrEnum):
    """What is wanted most of a plan. The values are stored and sent: never renamed."""

    EARLIEST = "earliest"
    CHEAPEST = "cheapest"
    FEWEST_VISITS = "fewest-visits"


@dataclass(frozen=True, kw_only=True)
class MouldAsked:
    """Moulds of one form: what each takes of a shelf, how many pieces it holds, how many there are.

    `held` is when other loads have how many of them.
    """

    id: int
    name: str
    footprint: Footprint
    holds: int
    count: int
    held: tuple[tuple[Span, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class PieceAsked:
    """One piece: its size, the mould that it sinks into, if it does, and how far it is on its route.

    `first` is the first firing that it still needs, counted from 0; past the last one there is only cold
    work. `free`: from when on it may be loaded or worked; None: once all has arrived, and is dry.
    `studio_id`: where it is fired, since it lies there or its moulds do; None: at any studio. `unworked`: the
    cold work after the firing before is still to be done.
    """

    footprint: Footprint
    mould: MouldAsked | None = None
    first: int = 0
    free: int | None = None
    studio_id: int | None = None
    unworked: bool = False


@dataclass(frozen=True, kw_only=True)
class HandDone:
    """Handwork that is done already and still good: loading may begin between two minutes because of it.

    What was washed are the shelves of one kiln; what was prepared, moulds of the studio.
    """

    does: Handwork
    studio_id: int
    kiln_id: int | None
    dry: int
    until: int

    def is_at(self, studio_id: int, kiln_id: int) -> bool:
        """Whether it is of use for a load in a kiln."""
        return self.studio_id == studio_id and self.kiln_id in {None, kiln_id}

    def serves(self, does: Handwork, studio_id: int, kiln_id: int, begins: int) -> bool:
        """Whether a load whose loading begins at a minute needs no such handwork any more."""
        return self.does is does and self.is_at(studio_id, kiln_id) and self.dry <= begins <= self.until


@dataclass(frozen=True, kw_only=True)
class KilnShelves:
    """The shelves of one kiln, all alike: how pieces stand on them, how many go on posts, what firing costs.

    What has no price costs nothing.
    """

    kiln_id: int
    shelf: Shelf
    levels: int
    kwh_price: float | None = None
    hour_price: float | None = None
    shelf_wash_price: float | None = None


@dataclass(frozen=True, kw_only=True)
class WorkAsked:
    """A kiln job from the engine's side. Times are minutes; pieces are known by their place in the tuple.

    `mixed_with` are other glasses in the same pieces.
    """

    title: str
    pieces: tuple[PieceAsked, ...]
    glass: Glass
    thickness_mm: float
    route: Route
    arrives: int
    due: int | None
    aim: Aim
    kilns: tuple[KilnShelves, ...]
    mixed_with: tuple[Glass, ...] = ()
    cold_min_each: int = 0
    done: tuple[HandDone, ...] = ()
