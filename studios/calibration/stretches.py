"""Which part of a log is a cooling with the heating off, and which a heating at full power."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from studios.calibration.errors import StretchNotInLog
from studios.calibration.log import Log


class Kind(StrEnum):
    COOLING = "cooling"
    FULL_POWER = "full-power"


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What a person says: from minute to minute of the log it cooled by itself, or heated at full power."""

    kind: Kind
    from_min: float
    to_min: float


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Readings [first, last) of a log; `found` by their shape, or marked by a person."""

    kind: Kind
    first: int
    last: int
    from_min: float
    to_min: float
    found: bool


def stretch_of(log: Log, kind: Kind, first: int, last: int, *, found: bool) -> Stretch:
    ends_min = log.minutes[last - 1]
    return Stretch(
        kind=kind, first=first, last=last, from_min=log.minutes[first], to_min=ends_min, found=found
    )


def marked(log: Log, mark: Mark) -> Stretch:
    """The readings from minute to minute, both included. Raises StretchNotInLog."""
    first = int(np.searchsorted(log.minutes, mark.from_min, side="left"))
    last = int(np.searchsorted(log.minutes, mark.to_min, side="right"))
    if not mark.from_min < mark.to_min or last - first < 2:
        raise StretchNotInLog(
            field="stretches", from_min=mark.from_min, to_min=mark.to_min, ends_min=log.ends_min
        )
    return stretch_of(log, Kind(mark.kind), first, last, found=False)


def windows(
    heating: Sequence[float] | None, count: int, *, low: float, high: float
) -> Iterator[tuple[int, int]]:
    """Runs of readings [first, last) with a share of full power from low to high; all if not logged."""
    if heating is None:
        yield 0, count
        return
    fits = np.array([low <= share <= high for share in heating], dtype=int)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], fits, [0]))))
    yield from zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
