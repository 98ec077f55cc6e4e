"""The segments of a firing as they are keyed in: whole numbers, in the degrees of whoever reads them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

from scheduling.selectors.firings import SegmentLine
from scheduling.wording import measured
from studios.thermal.units import f_from_c, f_per_h_from_c_per_h, keyed_rate, keyed_target

# A controller that takes whole degrees alone takes none of the tenths of a slow rate.
WHOLE_FROM = 10.0


@dataclass(frozen=True, kw_only=True)
class Keyed:
    """One segment in both degrees, the reader's first. A rate is empty where none is keyed in."""

    number: int
    line: SegmentLine
    rates: tuple[str, str]
    targets: tuple[str, str]
    hold_min: int

    @property
    def hold_clock(self) -> str:
        """The hold as controllers take it: hours and minutes."""
        return f"{self.hold_min // 60}:{self.hold_min % 60:02d}"

    @property
    def hold_until(self) -> dt.datetime | None:
        return self.line.hold_until


def keyed(segments: Iterable[SegmentLine], unit: str) -> tuple[Keyed, ...]:
    """A program as it is keyed in, each number as `units` rounds it: never faster, never shorter."""
    return tuple(_keyed(segments, (unit, "C" if unit == "F" else "F")))


def _keyed(segments: Iterable[SegmentLine], scales: tuple[str, str]) -> Iterator[Keyed]:
    first, second = scales
    for number, line in enumerate(segments, start=1):
        yield Keyed(
            number=number,
            line=line,
            rates=(_rate(line, first), _rate(line, second)),
            targets=(_target(line, first), _target(line, second)),
            # What is a hair over a minute is what floats make of that minute.
            hold_min=ceil(line.hold_min - 1e-6),
        )


def _rate(line: SegmentLine, scale: str) -> str:
    rate = line.rate_c_per_h
    if rate is None or line.level or not line.keyed:
        return ""
    return measured(keyed_rate(f_per_h_from_c_per_h(rate) if scale == "F" else rate), "")


def _target(line: SegmentLine, scale: str) -> str:
    at = f_from_c(line.target_c) if scale == "F" else line.target_c
    return f"{keyed_target(at, way=line.way):.0f}"


def with_tenths(rows: Iterable[Keyed]) -> bool:
    """Whether any rate is so slow that whole degrees would not do."""
    return any(rate and float(rate) < WHOLE_FROM for row in rows for rate in row.rates[:1])
