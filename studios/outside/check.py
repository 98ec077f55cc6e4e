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


LAST_BITS = 1e-9


def spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def with_unit(value: float, unit: str) -> str:
    return f"{value:g}{spaced(unit)}"


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

    def said(self, unit: str) -> str:
        """As a table shows it; what only allows for the last bits of a float is not shown."""
        if self.within is None:
            return f"{with_unit(self.value, unit)} ± {100 * (self.share or 0.0):g} %"
        room = f" ± {self.within:g}" if self.within > LAST_BITS else ""
        return f"{self.value:g}{room}{spaced(unit)}"


@dataclass(frozen=True, kw_only=True)
class Between:
    """A range, ends included; open on the side that is not stated."""

    low: float = -math.inf
    high: float = math.inf

    def said(self, unit: str) -> str:
        if math.isinf(self.high):
            return f"at least {with_unit(self.low, unit)}"
        if math.isinf(self.low):
            return f"at most {with_unit(self.high, unit)}"
        return f"{self.low:g} to {with_unit(self.high, unit)}"


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
