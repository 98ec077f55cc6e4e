"""Other plans beside the best: by the other aims, without one of its kilns, without one of its nights."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, replace

from scheduling.engine.planner.answers import Plan
from scheduling.engine.planner.loads import KilnWay, Question, Wish
from scheduling.engine.planner.nights import days_of
from scheduling.engine.planner.planning import sought
from scheduling.engine.planner.watched import Effort, Patience
from scheduling.engine.spans import Span, overlapping, subtract


@dataclass(frozen=True, kw_only=True)
class Apart:
    """What a plan leaves alone: a kiln, or the firings that would start on a day at a studio."""

    kiln_id: int | None = None
    night: tuple[int, Span] | None = None


@dataclass(frozen=True, kw_only=True)
class Alternative:
    """A plan, the best by its aim of those that leave something alone, if anything."""

    plan: Plan
    apart: Apart


def alternatives(
    question: Question, n: int, *, effort: Effort | None = None, stop: Callable[[], bool] | None = None
) -> tuple[Alternative, ...]:
    """At most so many plans, of which no two have the same loads in the same kilns on the same days.

    First the best by the aim that was asked for, then by the others; then the earliest without each kiln, and
    without each night, of the first. Where there is a day by which all is due, each of them keeps it.
    """
    patience = Patience(effort=effort or Effort(), stop=stop)
    found: dict[Hashable, Alternative] = {}
    for wish in (question.aim, *(wish for wish in Wish if wish is not question.aim)):
        _seek(question, wish, Apart(), patience.part(1 / (n + 1)), found)
    for apart in _parts_of(question, next(iter(found.values())).plan) if found else ():
        if len(found) >= n or patience.over or not patience.left:
            break
        _seek(question, Wish.EARLIEST, apart, patience.part(1 / (n + 1 - len(found))), found)
    return tuple(found.values())[:n]


def _seek(
    question: Question, wish: Wish, apart: Apart, patience: Patience, found: dict[Hashable, Alternative]
) -> None:
    """What is as good as found already, but for its hours, is no other plan."""
    if patience.over:
        return
    plan = sought(_without(question, apart), wish, patience, None, until=question.due, explain=False)
    if isinstance(plan, Plan):
        found.setdefault(_looks(question, plan), Alternative(plan=plan, apart=apart))


def _parts_of(question: Question, plan: Plan) -> Iterator[Apart]:
    """The kilns that a plan takes, and its nights, the first first."""
    for kiln_id in sorted({fired.kiln_id for fired in plan.firings}):
        yield Apart(kiln_id=kiln_id)
    for night in sorted({_night(question, fired.studio_id, fired.start) for fired in plan.firings}):
        yield Apart(night=night)


def _night(question: Question, studio_id: int, minute: int) -> tuple[int, Span]:
    """The day on which a firing starts; a minute of its own where it is on no day that is known."""
    days = overlapping(dict(days_of(question))[studio_id], minute, minute + 1)
    return studio_id, days[0] if days else (minute, minute + 1)


def _looks(question: Question, plan: Plan) -> Hashable:
    """Which loads are in which kilns on which days, whichever of those that are alike is which."""
    ways = {firing.key: firing.ways for firing in question.firings}
    nights = (
        (ways[fired.key], fired.kiln_id, _night(question, fired.studio_id, fired.start))
        for fired in plan.firings
    )
    return frozenset(Counter(nights).items())


def _without(question: Question, apart: Apart) -> Question:
    firings = (
        replace(firing, ways=tuple(way for each in firing.ways for way in _left(each, apart)))
        for firing in question.firings
    )
    return replace(question, firings=tuple(firings))


def _left(way: KilnWay, apart: Apart) -> Iterator[KilnWay]:
    """What is left of a way, if anything."""
    if way.kiln_id == apart.kiln_id:
        return
    if apart.night is None or apart.night[0] != way.studio_id:
        yield way
    elif starts := subtract(way.starts, [apart.night[1]]):
        yield replace(way, starts=starts)
