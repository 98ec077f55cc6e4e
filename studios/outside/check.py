"""A value that somebody outside the project stated, beside what the model makes of the same question."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


class Seen(StrEnum):
    """How the published value is known."""

    FOUND = "found"  # seen in a copy of the source, or in a text that quotes it
    MEMORY = "from memory"
    PRACTICE = "common practice"
    DERIVED = "derived"  # follows from a formula; worked out independently of this code


@dataclass(frozen=True, kw_only=True)
class About:
    """One number, with what the model may differ by: in its unit, or as a share of it."""

    value: float
    within: float | None = None
    share: float | None = None

    @property
    def low(self) -> float:
        return self.value - self._room

    @property
    def high(self) -> float:
        return self.value + self._room

    @property
    def _room(self) -> float:
        return abs(self.value) * (self.share or 0.0) if self.within is None else self.within

    def __str__(self) -> str:
        room = f"{self.within:g}" if self.within is not None else f"{100 * (self.share or 0.0):g} %"
        return f"{self.value:g} ± {room}"


@dataclass(frozen=True, kw_only=True)
class Between:
    """A range, ends included; open on the side that is not stated."""

    low: float = -math.inf
    high: float = math.inf

    def __str__(self) -> str:
        if math.isinf(self.high):
            return f"at least {self.low:g}"
        if math.isinf(self.low):
            return f"at most {self.high:g}"
        return f"{self.low:g} to {self.high:g}"


@dataclass(frozen=True, kw_only=True)
class Check:
    """One row of the table. `computed` asks the thermal model, in the unit of the row."""

    what: str
    unit: str = ""
    published: About | Between
    seen: Seen
    source: str
    computed: Callable[[], float]

    def holds(self, computed: float) -> bool:
        return self.published.low <= computed <= self.published.high

    def difference(self, computed: float) -> float:
        """From the published number; from a range how far outside of it, nothing inside."""
        if isinstance(self.published, About):
            return computed - self.published.value
        return computed - min(max(computed, self.published.low), self.published.high)
