"""Kiln loads over several nights: what is asked. Times are minutes since the epoch, UTC; spans half-open."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.planner.project import Key
from scheduling.engine.spans import Span


@dataclass(frozen=True, kw_only=True)
class KilnWay:
    """One load fired in one kiln. It starts when the door is closed and the program begins.

    `starts` are all that the kiln, its supply and whoever loads it allow on their own. Unloading begins, once
    it is cool enough to open, at the first minute in which one of the spans of `unload_staffed` holds it.
    `moulds`: so many of each form are in it from loading until it is unloaded.
    """

    kiln_id: int
    starts: tuple[Span, ...]
    prepare_min: int
    tail_min: int
    switching_min: int
    clear_min: int
    unload_staffed: tuple[Span, ...]
    draws: tuple[tuple[int, float], ...] = ()
    moulds: tuple[tuple[int, int], ...] = ()
    cost: float = 0.0
    studio_id: int = 0


@dataclass(frozen=True, kw_only=True)
class LoadFiring:
    """One firing of one load, in any of the kilns that take it."""

    key: Key
    ways: tuple[KilnWay, ...]


@dataclass(frozen=True, kw_only=True)
class Attended:
    """A step that somebody does, at one of the stations or, without any, wherever they are."""

    key: Key
    minutes: int
    starts: tuple[Span, ...]
    stations: tuple[int, ...] | None = None
    studio_id: int = 0


@dataclass(frozen=True, kw_only=True)
class Gap:
    """From the end of one (unloaded, or the step done) to the beginning of another (loading, or the step)."""

    before: Key
    after: Key
    least_min: int = 0
    greatest_min: int | None = None


@dataclass(frozen=True, kw_only=True)
class SupplyLimit:
    """What kilns may draw at once, and what is drawn already, as spans."""

    id: int
    limit: float
    drawn: tuple[tuple[Span, float], ...] = ()


@dataclass(frozen=True, kw_only=True)
class MouldsTaken:
    """How many moulds of a form there are, and when others have how many of those."""

    id: int
    count: int
    taken: tuple[tuple[Span, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class StationTaken:
    """When a station is somebody else's."""

    id: int
    taken: tuple[Span, ...]


class Wish(StrEnum):
    """Which plan is the best. The values are shown and sent: they are never renamed lightly."""

    EARLIEST = "earliest"
    CHEAPEST = "cheapest"
    FEWEST_VISITS = "fewest-visits"


@dataclass(frozen=True, kw_only=True)
class Question:
    """Loads that reach the studio at `arrives` and are to be ready by `due`, if there is a date.

    `days` are the days of each studio, by its clock, as spans; without them a day is one of UTC. A visit is a
    day on which somebody comes to a studio to load, to unload or to do a step. What reaches past
    midnight counts for the day on which it begins.
    """

    firings: tuple[LoadFiring, ...]
    attended: tuple[Attended, ...] = ()
    gaps: tuple[Gap, ...] = ()
    supplies: tuple[SupplyLimit, ...] = ()
    stations: tuple[StationTaken, ...] = ()
    moulds: tuple[MouldsTaken, ...] = ()
    arrives: int
    due: int | None = None
    aim: Wish = Wish.EARLIEST
    days: tuple[tuple[int, tuple[Span, ...]], ...] = ()
