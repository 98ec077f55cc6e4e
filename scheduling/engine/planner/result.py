"""What came of a search: the best plan found, and what is proven of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from scheduling.engine.planner.project import Aim, Key, Lag, Side, Way


class Outcome(StrEnum):
    """How far a search came."""

    BEST = "best"  # nothing is better: proven
    FOUND = "found"  # it works; whether there is better is open
    NONE = "none"  # nothing works: proven
    OPEN = "open"  # neither a plan nor a proof, when time or patience ran out


@dataclass(frozen=True, kw_only=True)
class Placed:
    """How one task is done: its way, when it starts and when it ends."""

    way: Way
    start: int
    end: int

    @property
    def closes(self) -> int:
        """When whoever closes it begins."""
        return self.end - (self.way.closing.minutes if self.way.closing else 0)


Placings = Mapping[Key, Placed]


def counts_from(lag: Lag, placings: Placings) -> int:
    """The minute from which a lag counts."""
    before = placings[lag.before]
    return before.end if lag.since is Side.END else before.start


@dataclass(frozen=True, kw_only=True)
class Result:
    """`values` says of each aim what the plan has of it: minutes since the beginning, cost, visits, minutes.

    No plan has less of the first aim than `bound`. `settled` says that the aims after it are proven, too.
    """

    outcome: Outcome
    placed: Placings
    values: Mapping[Aim, int]
    bound: int
    settled: bool
    seconds: float

    @property
    def value(self) -> int | None:
        """What the plan has of the first aim."""
        return next(iter(self.values.values()), None)

    @property
    def gap(self) -> float:
        """How much less of the first aim there might be, as a part of what there is."""
        if self.outcome in {Outcome.BEST, Outcome.NONE}:
            return 0.0
        return (self.value - self.bound) / abs(self.value) if self.value else 1.0
