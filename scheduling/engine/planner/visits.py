"""The days on which somebody comes, however much is started and closed on each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from scheduling.engine.planner.alone import held_alone, lone, most_starts
from scheduling.engine.planner.model import Choice, Consequences, Expr, Laid, Model
from scheduling.engine.planner.project import Key, Project
from scheduling.engine.planner.result import Placed, Placings
from scheduling.engine.spans import Span, clip

Visit = tuple[Key, Span]


@dataclass(frozen=True, kw_only=True)
class Coming:
    """Somebody may come for the start of a task in a way, or for its closing, on a day."""

    laid: Laid
    choice: Choice
    visit: Visit
    closing: bool
    on_day: cp_model.IntVar

    def happens(self, plan: Placings) -> bool:
        placed, (_, day) = plan[self.laid.task.key], self.visit
        minute = placed.closes if self.closing else placed.start
        waited = self.closing and placed.end - placed.start > self.choice.reach.length
        return placed.way is self.choice.way and day[0] <= minute < day[1] and not waited


@dataclass(frozen=True, kw_only=True)
class Days:
    """Whether somebody comes to a place on a day, and what for."""

    came: Mapping[Visit, cp_model.IntVar]
    comings: list[Coming] = field(default_factory=list)

    def follow(self, plan: Placings) -> Consequences:
        """What a plan makes of all this."""
        yield from ((coming.on_day, coming.happens(plan)) for coming in self.comings)
        seen = visited(plan, tuple(self.came))
        yield from ((came, visit in seen) for visit, came in self.came.items())


def visited(plan: Placings, days: Iterable[Visit]) -> frozenset[Visit]:
    """The days on which somebody comes to a place, for a start or a closing that begins then."""
    comings = {(placed.way.place, minute) for placed in plan.values() for minute in _minutes_of(placed)}
    return frozenset(
        (place, day) for place, day in days if any(at == place and day[0] <= m < day[1] for at, m in comings)
    )


def _minutes_of(placed: Placed) -> tuple[int, ...]:
    return (placed.start, placed.closes) if placed.way.closing else (placed.start,)


def every_day(project: Project) -> tuple[Visit, ...]:
    return tuple((place, day) for place, days in project.days for day in days)


def visits(model: Model) -> Expr:
    """How many days at how many places."""
    days = Days(came={visit: model.cp.new_bool_var("came") for visit in every_day(model.project)})
    for laid, choice in model.choices():
        if choice.way.place is not None:
            _somebody_comes_to_start(model, days, laid, choice)
            _somebody_comes_to_close(model, days, laid, choice)
    _no_kiln_starts_more_than_fits_into_a_day(model, days)
    model.consequences.append(days.follow)
    return sum(days.came.values())


def _somebody_comes_to_start(model: Model, days: Days, laid: Laid, choice: Choice) -> None:
    coming = [
        Coming(laid=laid, choice=choice, visit=visit, closing=False, on_day=model.cp.new_bool_var("starts"))
        for visit in _days_of(days, choice, choice.reach.starts)
    ]
    _on_one_of_the_days(model, days, coming, laid.start, choice.taken)


def _somebody_comes_to_close(model: Model, days: Days, laid: Laid, choice: Choice) -> None:
    """A turn that is waited for is on a day that is known; else it follows from the start."""
    if (closing := choice.way.closing) is None:
        return
    turns = [(a + choice.way.minutes, b + choice.way.minutes) for a, b in choice.reach.prompt]
    coming = [
        Coming(laid=laid, choice=choice, visit=visit, closing=True, on_day=model.cp.new_bool_var("closes"))
        for visit in _days_of(days, choice, turns)
    ]
    _on_one_of_the_days(model, days, coming, laid.end - closing.minutes, choice.prompt)
    for (_, end), waits in zip(choice.reach.waiting, choice.waits, strict=True):
        begins = end - closing.minutes
        for visit in _days_of(days, choice, [(begins, begins + 1)]):
            model.cp.add_implication(waits, days.came[visit])


def _on_one_of_the_days(
    model: Model, days: Days, coming: Sequence[Coming], minute: Expr, taken: cp_model.BoolVarT
) -> None:
    """Something begins on one day, if it does; then somebody comes."""
    for each in coming:
        day = model.domain((each.visit[1],))
        model.cp.add_linear_expression_in_domain(minute, day).only_enforce_if(each.on_day)
        model.cp.add_implication(each.on_day, days.came[each.visit])
    model.cp.add(sum(each.on_day for each in coming) == taken)
    days.comings.extend(coming)


def _no_kiln_starts_more_than_fits_into_a_day(model: Model, days: Days) -> None:
    """It follows from the rest, but the search sees sooner how many days it takes when it is said."""
    alone, starts = lone(model.project), dict[tuple[Key, Visit], list[Coming]]()
    for coming in days.comings:
        kiln = held_alone(coming.choice.way, alone)
        if kiln is not None and not coming.closing:
            starts.setdefault((kiln, coming.visit), []).append(coming)
    for (_, visit), comings in starts.items():
        most = most_starts({each.choice.reach for each in comings}, visit[1], len(comings))
        model.cp.add(sum(each.on_day for each in comings) <= most * days.came[visit])


def _days_of(days: Days, choice: Choice, minutes: Iterable[Span]) -> list[Visit]:
    """The days at the place of a way in which any of the minutes lie."""
    spans = tuple(minutes)
    return [visit for visit in days.came if visit[0] == choice.way.place and clip(spans, visit[1])]
