"""Work to be laid into time: tasks, the ways to do each, what they draw on, and the lags between them."""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.spans import Span

Key = Hashable


@dataclass(frozen=True, kw_only=True)
class Resource:
    """What tasks draw on at once, up to its capacity less what is `taken` already."""

    key: Key
    capacity: int
    taken: tuple[tuple[Span, int], ...] = ()


@dataclass(frozen=True, kw_only=True)
class Draw:
    """So much of a resource from `begins` to `ends` minutes after the start, or to the end."""

    resource: Key
    amount: int = 1
    begins: int = 0
    ends: int | None = None

    @property
    def lasts(self) -> bool:
        """Whether anything is drawn at all."""
        return self.amount > 0 and (self.ends is None or self.ends > self.begins)


@dataclass(frozen=True, kw_only=True)
class Closing:
    """What somebody must be there for at the end: it begins at the first minute in which a span holds it."""

    minutes: int
    within: tuple[Span, ...]


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to do a task: it starts in one of `starts`, runs its minutes, waits for its closing, and ends.

    Without `starts` it may start at any time. `place` is where somebody comes for start and closing.
    """

    key: Key = None
    minutes: int
    draws: tuple[Draw, ...] = ()
    starts: tuple[Span, ...] | None = None
    closing: Closing | None = None
    cost: int = 0
    place: Key = None


@dataclass(frozen=True, kw_only=True)
class Task:
    key: Key
    ways: tuple[Way, ...]


class Side(StrEnum):
    """From which side of the task before a lag counts."""

    START = "start"
    END = "end"


@dataclass(frozen=True, kw_only=True)
class Lag:
    """After one task, the start of another keeps a least distance, and a greatest one where there is one."""

    before: Key
    after: Key
    least: int = 0
    greatest: int | None = None
    since: Side = Side.END


class Aim(StrEnum):
    """What there should be least of."""

    FINISH = "finish"
    COST = "cost"
    VISITS = "visits"
    STARTS = "starts"
    ANY = "any"


@dataclass(frozen=True, kw_only=True)
class Project:
    """Everything starts and ends in `within`. `days` are the spans that one visit to a place is for."""

    tasks: tuple[Task, ...]
    resources: tuple[Resource, ...] = ()
    lags: tuple[Lag, ...] = ()
    within: Span
    days: tuple[tuple[Key, tuple[Span, ...]], ...] = ()
