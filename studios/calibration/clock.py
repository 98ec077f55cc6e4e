"""The times of a log, in whatever way a logger or a controller writes them, as minutes."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum
from statistics import median_low
from typing import Literal

from studios.calibration.errors import AmbiguousDate, TimeOutOfRange, TimeUnitUnknown, UnreadableTimes

Elapsed = Literal["s", "min", "h"]
MINUTES: dict[Elapsed, float] = {"s": 1 / 60, "min": 1.0, "h": 60.0}
DAY_MIN = 1440.0
LONGEST_LOG_DAYS = 366

_CLOCK = re.compile(r"(\d{1,4}):(\d{2})(?::(\d{2}(?:[.,]\d+)?))?\s*(?:([ap])\.?m\.?)?", re.IGNORECASE)
_DATE = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})[T,\s]+(.+)")
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class Written(StrEnum):
    """From when the minutes of a log count, by how its times are written."""

    ELAPSED = "from its own beginning"
    CLOCK = "from some midnight"
    WALL = "from the epoch, by a clock on the wall"
    MOMENT = "from the epoch, by universal time"


@dataclass(frozen=True, kw_only=True)
class Stamp:
    """One cell of time: its line in the file and its text."""

    line: int
    text: str


def read_minutes(
    stamps: Sequence[Stamp], *, elapsed: Elapsed | None, day_first: bool | None
) -> tuple[float | None, ...]:
    """Minutes of each stamp from one common beginning; None where a cell is no time.

    Dates with a clock time, with or without an offset; a clock time alone, which passes midnight when it
    goes back by more than twelve hours (so a gap of more than twelve hours cannot be told from it); or a
    number of seconds, minutes or hours. The first cell that can be read says which of them the log uses.
    A date without an offset is taken as it stands: a log that runs through a change of clocks needs offsets.
    Raises UnreadableTimes, TimeUnitUnknown, AmbiguousDate or TimeOutOfRange.
    """
    for stamp in stamps:
        read = _way_of_writing(stamp, stamps, elapsed=elapsed, day_first=day_first)
        if read is not None:
            minutes = tuple(read(each.text) for each in stamps)
            whole = _passing_midnight(minutes) if read is _clock_minutes else minutes
            _require_one_log(stamps, whole)
            return whole
    raise UnreadableTimes(field="log", line=stamps[0].line, text=stamps[0].text[:40])


def _way_of_writing(
    stamp: Stamp, stamps: Sequence[Stamp], *, elapsed: Elapsed | None, day_first: bool | None
) -> Callable[[str], float | None] | None:
    if _number(stamp.text) is not None:
        if elapsed is None:
            raise TimeUnitUnknown(field="elapsed", line=stamp.line, text=stamp.text[:40])
        return _counting(MINUTES[elapsed])
    if _clock_minutes(stamp.text) is not None:
        return _clock_minutes
    if _iso_minutes(stamp.text) is not None:
        return _iso_minutes
    if _DATE.fullmatch(stamp.text.strip()):
        return _dates(day_first=_day_comes_first(stamps) if day_first is None else day_first)
    return None


def written(stamps: Sequence[Stamp]) -> Written:
    """As the first time that can be read is written."""
    for stamp in stamps:
        if _number(stamp.text) is not None:
            return Written.ELAPSED
        if _clock_minutes(stamp.text) is not None:
            return Written.CLOCK
        if (moment := _iso_moment(stamp.text)) is not None:
            return Written.WALL if moment.tzinfo is None else Written.MOMENT
        if _DATE.fullmatch(stamp.text.strip()):
            return Written.WALL
    return Written.ELAPSED


def _number(text: str) -> float | None:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return None if math.isnan(value) else value


def _counting(minutes_each: float) -> Callable[[str], float | None]:
    def read(text: str) -> float | None:
        value = _number(text)
        return None if value is None else value * minutes_each

    return read


def _clock_minutes(text: str) -> float | None:
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return None
    hours, minutes, seconds = int(found[1]), int(found[2]), float((found[3] or "0").replace(",", "."))
    if minutes > 59 or seconds >= 60 or (found[4] and not 1 <= hours <= 12):
        return None
    if found[4]:
        hours = hours % 12 + (12 if found[4].lower() == "p" else 0)
    return hours * 60 + minutes + seconds / 60


def _iso_moment(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text.strip().replace("/", "-").replace(",", "."))
    except ValueError:
        return None


def _iso_minutes(text: str) -> float | None:
    moment = _iso_moment(text)
    if moment is None:
        return None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    return (moment - _EPOCH).total_seconds() / 60


def _dates(*, day_first: bool) -> Callable[[str], float | None]:
    def read(text: str) -> float | None:
        found = _DATE.fullmatch(text.strip())
        clock = None if found is None else _clock_minutes(found[5])
        if found is None or clock is None:
            return None
        day, month = (found[1], found[3]) if day_first else (found[3], found[1])
        midnight = _iso_minutes(f"{found[4]}-{month:0>2}-{day:0>2}")
        return None if midnight is None else midnight + clock

    return read


def _day_comes_first(stamps: Sequence[Stamp]) -> bool:
    """Dots put the day first; else some date of the log must have a number above twelve to tell."""
    dated = [(stamp, found) for stamp in stamps if (found := _DATE.fullmatch(stamp.text.strip()))]
    if any(found[2] == "." or int(found[1]) > 12 for _, found in dated):
        return True
    if any(int(found[3]) > 12 for _, found in dated):
        return False
    raise AmbiguousDate(field="day_first", line=dated[0][0].line, text=dated[0][0].text[:40])


def _passing_midnight(minutes: Sequence[float | None]) -> tuple[float | None, ...]:
    """A clock that goes back by more than half a day has passed midnight; forward by as much, the reverse."""
    whole: list[float | None] = []
    before: float | None = None
    for each in minutes:
        if each is None:
            whole.append(None)
            continue
        days = 0 if before is None else math.ceil((before - each) / DAY_MIN - 0.5)
        before = each + days * DAY_MIN
        whole.append(before)
    return tuple(whole)


def _require_one_log(stamps: Sequence[Stamp], minutes: Sequence[float | None]) -> None:
    read = [each for each in minutes if each is not None]
    middle = median_low(read)
    limit_min = LONGEST_LOG_DAYS * DAY_MIN
    for stamp, each in zip(stamps, minutes, strict=True):
        if each is not None and not abs(each - middle) <= limit_min:
            raise TimeOutOfRange(
                field="log", line=stamp.line, text=stamp.text[:40], limit_days=LONGEST_LOG_DAYS
            )
