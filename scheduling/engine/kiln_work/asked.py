"""What is asked of the kilns: pieces by size, their glass, their route, and between when and when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.kiln_work.routes import Route
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
    """One piece: its size, and the mould that it sinks into, if it does."""

    footprint: Footprint
    mould: MouldAsked | None = None


@dataclass(frozen=True, kw_only=True)
class KilnShelves:
    """The shelves of one kiln, all alike: how pieces stand on them, and how many go on posts."""

    kiln_id: int
    shelf: Shelf
    levels: int
    hour_price: float | None = None
    shelf_wash_price: float | None = None


@dataclass(frozen=True, kw_only=True)
class WorkAsked:
    """A kiln job from the engine's side. Times are minutes; pieces are known by their place in the tuple.

    `mixed_with` are other glasses in the same pieces. `prices_per_kwh` by studio; none: energy costs nothing.
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
    prices_per_kwh: Mapping[int, float] | None = None
