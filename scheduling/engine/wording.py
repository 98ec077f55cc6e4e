"""How the engine says times and temperatures: the studio's clock and the studio's unit."""

from __future__ import annotations

from scheduling.engine.clock import local
from scheduling.engine.records import StudioRecord


def at(minute: int, studio: StudioRecord) -> str:
    """A moment as a person writes it: Tue 9 Mar 21:00."""
    when = local(minute, studio.zone)
    return f"{when:%a} {when.day} {when:%b %H:%M}"


def between(start: int, end: int, studio: StudioRecord) -> str:
    """A stretch of time; an end on the same day is its time of day only."""
    same = local(start, studio.zone).date() == local(end, studio.zone).date()
    return f"{at(start, studio)} to {clock_time(end, studio) if same else at(end, studio)}"


def clock_time(minute: int, studio: StudioRecord) -> str:
    """The time of day only: 21:00."""
    return f"{local(minute, studio.zone):%H:%M}"


def degrees(celsius: float, studio: StudioRecord) -> str:
    """A temperature in the studio's unit, to the degree."""
    return f"{celsius * 9 / 5 + 32:.0f} °F" if studio.fahrenheit else f"{celsius:.0f} °C"


def listed(names: list[str]) -> str:
    """A list as a sentence has it: a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "nothing"
