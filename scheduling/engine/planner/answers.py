"""Kiln loads over several nights: what is answered."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.planner.loads import Wish
from scheduling.engine.planner.project import Key
from scheduling.engine.spans import Span


@dataclass(frozen=True, kw_only=True)
class Fired:
    """A load in its kiln: loaded from `loading` on, closed at `start`, cool, unloaded until `done`."""

    key: Key
    kiln_id: int
    studio_id: int
    loading: int
    start: int
    cool: int
    unload: int
    done: int


@dataclass(frozen=True, kw_only=True)
class Done:
    """An attended step: at which station, if at one, and when."""

    key: Key
    station_id: int | None
    studio_id: int
    start: int
    end: int


@dataclass(frozen=True, kw_only=True)
class Plan:
    """Every load and step in its place. All is finished at `finish`.

    `bound` is what no plan has less of, by its aim: a minute, a cost, or a number of visits. `gap` is how far
    the plan is from it, as a part, 0 where it is `proven` that nothing is better. `settled` says that this is
    proven, too, of what chose among plans that are equally good.
    """

    aim: Wish
    firings: tuple[Fired, ...]
    steps: tuple[Done, ...]
    finish: int
    cost: float
    visits: tuple[tuple[int, Span], ...]
    proven: bool
    bound: float
    gap: float
    settled: bool


@dataclass(frozen=True, kw_only=True)
class Late:
    """It cannot be done by the day it is due; this is the earliest that can.

    Where that is not proven, time ran out before anything was found that is done by then.
    """

    due: int
    earliest: Plan
    proven: bool


class Why(StrEnum):
    """What keeps work from ever being done. The values are sent: they are never renamed lightly."""

    NO_KILN = "no-kiln"  # nothing fires this load, or there is no station for the step
    NO_TIME = "no-time"  # it fits nowhere, even alone
    GAP = "gap"  # these two cannot keep their gap, even alone
    CHAIN = "chain"  # these hang together and cannot all keep their gaps, even alone
    SUPPLY = "supply"  # without the limit of this supply it would go
    KILNS = "kilns"  # if each kiln took several loads at once it would go
    STATIONS = "stations"  # if each station took several steps at once it would go
    GREATEST_GAPS = "greatest-gaps"  # if one could wait as long as one likes it would go
    TOGETHER = "together"  # only all of it together is too much


@dataclass(frozen=True, kw_only=True)
class Reason:
    """`of` are the keys of the loads and steps, or the id of the supply."""

    why: Why
    of: tuple[Key, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Never:
    """No plan holds all of it, however late."""

    reasons: tuple[Reason, ...]


@dataclass(frozen=True, kw_only=True)
class Open:
    """Neither a plan nor a proof that there is none, when time or patience ran out."""

    seconds: float


Answer = Plan | Late | Never | Open
