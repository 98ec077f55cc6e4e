"""How the engine says times and temperatures: the studio's clock and the studio's unit."""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.engine.clock import local
from scheduling.engine.records import StudioRecord
from studios.said import Form, degrees_said, moment_said, said, several_said


def at(minute: int, studio: StudioRecord) -> str:
    """A moment as a person writes it: Tue 9 Mar 21:00."""
    return moment_said(local(minute, studio.zone), Form.PLAIN)


def between(start: int, end: int, studio: StudioRecord) -> str:
    """A stretch of time; an end on the same day is its time of day only."""
    same = local(start, studio.zone).date() == local(end, studio.zone).date()
    ends = clock_time(end, studio) if same else at(end, studio)
    return said("{start} to {end}", start=at(start, studio), end=ends)


def clock_time(minute: int, studio: StudioRecord) -> str:
    """The time of day only: 21:00."""
    return moment_said(local(minute, studio.zone), Form.CLOCK)


def degrees(celsius: float, studio: StudioRecord) -> str:
    """A temperature in the studio's unit, to the degree."""
    return degrees_said(celsius, studio.fahrenheit)


def listed(names: list[str]) -> str:
    """A list as a sentence has it: a, b and c."""
    return several_said(names, ", ", " and ") if names else said("nothing")


def holders(names: Iterable[str]) -> str:
    """Whose loads a firing has, each named once; empty where it has none."""
    once = list(dict.fromkeys(names))
    return listed(once) if len(once) > 1 else "".join(once)


def causes_of(sentences: Iterable[str]) -> str:
    """Several causes, one after another."""
    return several_said(sentences, "; ")
