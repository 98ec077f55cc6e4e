"""A plan read from where its tasks were placed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from scheduling.engine.planner.answers import Done, Fired, Plan
from scheduling.engine.planner.loads import Attended, LoadFiring, Question, Wish
from scheduling.engine.planner.nights import PARTS, days_of
from scheduling.engine.planner.result import Outcome, Placed, Result
from scheduling.engine.spans import Span, overlapping


def plan_of(question: Question, result: Result, wish: Wish) -> Plan:
    """What was found, in the trade's words."""
    firings = tuple(_fired(firing, result.placed[firing.key]) for firing in question.firings)
    steps = tuple(_done(step, result.placed[step.key]) for step in question.attended)
    return Plan(
        aim=wish,
        firings=firings,
        steps=steps,
        finish=max([question.arrives, *(f.done for f in firings), *(step.end for step in steps)]),
        cost=sum(placed.way.cost for placed in result.placed.values()) / PARTS,
        visits=tuple(sorted(set(_visits(question, _comings(firings, steps))))),
        proven=result.outcome is Outcome.BEST,
        bound=counted(question, wish, result.bound),
        gap=result.gap,
        settled=result.settled,
    )


def counted(question: Question, wish: Wish, value: int) -> float:
    """What the search counts as whoever asked does: a minute, a cost, or a number of visits."""
    if wish is Wish.EARLIEST:
        return question.arrives + value
    return value / PARTS if wish is Wish.CHEAPEST else value


def _fired(firing: LoadFiring, placed: Placed) -> Fired:
    way = next(way for way in firing.ways if way == placed.way.key)
    return Fired(
        key=firing.key,
        kiln_id=way.kiln_id,
        studio_id=way.studio_id,
        loading=placed.start,
        start=placed.start + way.prepare_min,
        cool=placed.start + way.prepare_min + way.tail_min,
        unload=placed.closes,
        done=placed.end,
    )


def _done(step: Attended, placed: Placed) -> Done:
    station = next((number for number in step.stations or () if number == placed.way.key), None)
    return Done(
        key=step.key, station_id=station, studio_id=step.studio_id, start=placed.start, end=placed.end
    )


def _comings(firings: Iterable[Fired], steps: Iterable[Done]) -> Iterator[tuple[int, int]]:
    """At which studio and in which minute somebody begins to load, to unload or to do a step."""
    for fired in firings:
        yield fired.studio_id, fired.loading
        yield fired.studio_id, fired.unload
    for step in steps:
        yield step.studio_id, step.start


def _visits(question: Question, comings: Iterable[tuple[int, int]]) -> Iterator[tuple[int, Span]]:
    days = dict(days_of(question))
    for studio_id, minute in comings:
        yield from ((studio_id, day) for day in overlapping(days[studio_id], minute, minute + 1))
