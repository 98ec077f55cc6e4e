"""A weekly class: the times of day that work every week, and the weeks that spoil an otherwise good one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo

from scheduling.engine.clock import clock_change, whole_day
from scheduling.engine.records import Ask
from scheduling.engine.spans import Span, at_least, covers, subtract, union
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World


@dataclass(frozen=True, kw_only=True)
class Spoilt:
    """Times of day, in minutes from midnight by the clock, that work in all weeks but these."""

    times: tuple[Span, ...]
    weeks: tuple[dt.date, ...]


@dataclass(frozen=True, kw_only=True)
class WeeklySpace:
    """The times of day at which a class can be held on each of the days, and those that few weeks spoil."""

    days: tuple[dt.date, ...]
    every_week: tuple[Span, ...]
    spoilt: tuple[Spoilt, ...]


def weekly_days(first: dt.date, count: int, skipped: frozenset[dt.date]) -> tuple[dt.date, ...]:
    """So many days a week apart, holidays left out."""
    found: list[dt.date] = []
    day = first
    while len(found) < count:
        if day not in skipped:
            found.append(day)
        day += dt.timedelta(days=7)
    return tuple(found)


def weekly_space(world: World, ask: Ask, days: Sequence[dt.date], *, most_spoilt: int = 2) -> WeeklySpace:
    """The wall-clock starts that work on each day; what is held may change from week to week.

    A change of clocks moves nothing: six in the evening stays six in the evening. A wall time that a day does
    not have spoils that week, a doubled one is the first of the two.
    """
    zone = world.studios[ask.studio_id].zone
    by_day = [tuple(_wall_spans(world, ask, day, zone)) for day in days]
    every = at_least(len(by_day), by_day) if by_day else ()
    return WeeklySpace(
        days=tuple(days), every_week=every, spoilt=tuple(_spoilt(days, by_day, every, most_spoilt))
    )


def _wall_spans(world: World, ask: Ask, day: dt.date, zone: ZoneInfo) -> Iterator[Span]:
    """One day's starts as minutes from midnight by the clock; of a doubled hour the first."""
    begin, end = whole_day(day, zone)
    change, shift = clock_change(begin, end, zone)
    before = [(start - begin, stop - begin) for start, stop in start_space(world, ask, begin, change)]
    after = [
        (start - begin + shift, stop - begin + shift) for start, stop in start_space(world, ask, change, end)
    ]
    yield from union([*before, *subtract(after, [(0, change - begin)])])


def _spoilt(
    days: Sequence[dt.date],
    by_day: Sequence[tuple[Span, ...]],
    every: tuple[Span, ...],
    most: int,
) -> Iterator[Spoilt]:
    """For a few weeks left out, the times that then work: fewest weeks first, and no time twice."""
    known = every
    for count in range(1, min(most, len(days) - 1) + 1):
        nearly = subtract(at_least(len(days) - count, by_day), known)
        groups: dict[tuple[dt.date, ...], list[Span]] = {}
        for span in _uniform(nearly, by_day):
            lacking = tuple(d for d, spans in zip(days, by_day, strict=True) if not covers(spans, *span))
            groups.setdefault(lacking, []).append(span)
        for lacking, times in groups.items():
            yield Spoilt(times=union(times), weeks=lacking)
        known = union([*known, *nearly])


def _uniform(spans: Sequence[Span], by_day: Sequence[tuple[Span, ...]]) -> Iterator[Span]:
    """The spans parted wherever another week begins or ceases to work."""
    edges = sorted({edge for day in by_day for span in day for edge in span})
    for start, end in spans:
        cuts = [start, *(edge for edge in edges if start < edge < end), end]
        yield from pairwise(cuts)
