"""Loads, kilns and nights said as tasks, ways and resources: the search knows nothing of glass."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from scheduling.engine.clock import MINUTES_A_DAY
from scheduling.engine.planner.loads import Attended, Gap, KilnWay, Question, SupplyLimit
from scheduling.engine.planner.project import Closing, Draw, Key, Lag, Project, Resource, Task, Way
from scheduling.engine.spans import Span

# The search counts in whole numbers: thousandths of what a supply gives, and of what a firing costs.
PARTS = 1000
NOISE = 1e-6


def as_project(question: Question, *, until: int | None = None) -> Project:
    """Each load and step a task; kilns, stations and supplies resources; gaps lags."""
    within = (question.arrives, max(last_minute(question) if until is None else until, question.arrives + 1))
    limited = {supply.id for supply in question.supplies}
    firings = (
        Task(key=f.key, ways=tuple(_firing_way(way, limited) for way in f.ways)) for f in question.firings
    )
    steps = (Task(key=step.key, ways=tuple(_step_ways(step))) for step in question.attended)
    return Project(
        tasks=(*firings, *steps),
        resources=tuple(_resources(question)),
        lags=tuple(map(_lag, question.gaps)),
        within=within,
        days=days_of(question),
    )


def last_minute(question: Question) -> int:
    """When the last of all that could be done would be over."""
    unloading = (end for f in question.firings for way in f.ways for _, end in way.unload_staffed)
    stepping = (end - 1 + step.minutes for step in question.attended for _, end in step.starts)
    return max([*unloading, *stepping], default=question.arrives)


def kiln_key(kiln_id: int) -> Key:
    return "kiln", kiln_id


def station_key(station_id: int) -> Key:
    return "station", station_id


def supply_key(supply_id: int) -> Key:
    return "supply", supply_id


def mould_key(mould_id: int) -> Key:
    return "mould", mould_id


def _firing_way(way: KilnWay, limited: Collection[int]) -> Way:
    """It begins as loading does. Kiln and moulds are its own until unloaded, supplies while it may switch.

    A supply without a limit carries everything.
    """
    switching = [
        Draw(
            resource=supply_key(supply_id),
            amount=_at_least(amount),
            begins=way.prepare_min,
            ends=way.prepare_min + way.switching_min,
        )
        for supply_id, amount in way.draws
        if supply_id in limited
    ]
    return Way(
        key=way,
        minutes=way.prepare_min + way.tail_min,
        draws=(Draw(resource=kiln_key(way.kiln_id)), *_moulds(way), *switching),
        starts=tuple((begin - way.prepare_min, end - way.prepare_min) for begin, end in way.starts),
        closing=Closing(minutes=way.clear_min, within=way.unload_staffed),
        cost=round(way.cost * PARTS),
        place=way.studio_id,
    )


def _moulds(way: KilnWay) -> Iterator[Draw]:
    return (Draw(resource=mould_key(mould_id), amount=count) for mould_id, count in way.moulds)


def _step_ways(step: Attended) -> Iterator[Way]:
    for station in (None,) if step.stations is None else step.stations:
        draws = () if station is None else (Draw(resource=station_key(station)),)
        yield Way(key=station, minutes=step.minutes, draws=draws, starts=step.starts, place=step.studio_id)


def _resources(question: Question) -> Iterator[Resource]:
    for kiln_id in sorted({way.kiln_id for firing in question.firings for way in firing.ways}):
        yield Resource(key=kiln_key(kiln_id), capacity=1)
    taken = {station.id: station.taken for station in question.stations}
    for station_id in sorted({number for step in question.attended for number in step.stations or ()}):
        spans = tuple((span, 1) for span in taken.get(station_id, ()))
        yield Resource(key=station_key(station_id), capacity=1, taken=spans)
    yield from map(_supply, question.supplies)
    for mould in question.moulds:
        yield Resource(key=mould_key(mould.id), capacity=mould.count, taken=mould.taken)


def _supply(supply: SupplyLimit) -> Resource:
    """Its limit rounded down, and what is drawn rounded up."""
    drawn = tuple((span, _at_least(amount)) for span, amount in supply.drawn)
    return Resource(key=supply_key(supply.id), capacity=math.floor(supply.limit * PARTS + NOISE), taken=drawn)


def _at_least(amount: float) -> int:
    return math.ceil(amount * PARTS - NOISE)


def _lag(gap: Gap) -> Lag:
    return Lag(before=gap.before, after=gap.after, least=gap.least_min, greatest=gap.greatest_min)


def days_of(question: Question) -> tuple[tuple[int, tuple[Span, ...]], ...]:
    """The days of each studio that has a part in it; where they are not given, those of UTC."""
    given = dict(question.days)
    first = question.arrives - question.arrives % MINUTES_A_DAY
    utc = tuple((day, day + MINUTES_A_DAY) for day in range(first, last_minute(question), MINUTES_A_DAY))
    studios = {way.studio_id for firing in question.firings for way in firing.ways}
    studios |= {step.studio_id for step in question.attended}
    return tuple((studio_id, given.get(studio_id, utc)) for studio_id in sorted(studios))
