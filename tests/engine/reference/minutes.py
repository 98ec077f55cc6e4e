"""A stretch of time as one flag or one amount for each minute, so that every rule can be looked up there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Flags = npt.NDArray[np.bool_]
Amounts = npt.NDArray[np.float64]
Stretch = tuple[int, int]


@dataclass(frozen=True, kw_only=True)
class Minutes:
    """All minutes in [first, last); what is asked about must lie in them."""

    first: int
    last: int

    def at(self, minute: int) -> int:
        """Where a minute stands in the arrays. Raises ValueError where it is not in them."""
        if not self.first <= minute <= self.last:
            raise ValueError(f"minute {minute} is not in [{self.first}, {self.last}]")
        return minute - self.first

    def marked(self, stretches: Iterable[Stretch]) -> Flags:
        """True in every minute of the stretches; what lies beyond either end is cut off."""
        flags = np.zeros(self.last - self.first, dtype=np.bool_)
        for begin, end in stretches:
            flags[max(begin - self.first, 0) : max(end - self.first, 0)] = True
        return flags

    def added_up(self, amounts: Iterable[tuple[Stretch, float]]) -> Amounts:
        """The sum, minute by minute, of amounts over stretches."""
        total = np.zeros(self.last - self.first)
        for (begin, end), amount in amounts:
            total[max(begin - self.first, 0) : max(end - self.first, 0)] += amount
        return total

    def every(self, flags: Flags, begin: int, end: int) -> bool:
        """Whether all minutes of [begin, end) are marked."""
        return bool(flags[self.at(begin) : self.at(end)].all()) if begin < end else True

    def none(self, flags: Flags, begin: int, end: int) -> bool:
        """Whether no minute of [begin, end) is marked."""
        return not flags[self.at(begin) : self.at(end)].any() if begin < end else True

    def runs_of(self, flags: Flags, length: int) -> Flags:
        """The minutes from which on at least so many, and always one, are marked; none near the end."""
        fits = np.zeros_like(flags)
        size, needed = len(flags), max(length, 1)
        counted = np.concatenate(([0], np.cumsum(flags)))
        fits[: size - needed + 1] = counted[needed:] - counted[: size - needed + 1] == needed
        return fits
