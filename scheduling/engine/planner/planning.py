"""Loads over several nights, answered: a plan, the earliest that can be, or why there is none."""

from __future__ import annotations

from collections.abc import Callable

from scheduling.engine.planner.answers import Answer, Late, Never, Open, Plan
from scheduling.engine.planner.loads import Question, Wish
from scheduling.engine.planner.nights import as_project
from scheduling.engine.planner.project import Aim
from scheduling.engine.planner.reading import counted, plan_of
from scheduling.engine.planner.reasons import reasons
from scheduling.engine.planner.result import Outcome
from scheduling.engine.planner.solving import solve
from scheduling.engine.planner.watched import Effort, Patience

# What is looked at first, and what chooses among plans that are equally good by it.
AIMS = {
    Wish.EARLIEST: (Aim.FINISH, Aim.COST, Aim.STARTS),
    Wish.CHEAPEST: (Aim.COST, Aim.FINISH, Aim.STARTS),
    Wish.FEWEST_VISITS: (Aim.VISITS, Aim.FINISH, Aim.COST, Aim.STARTS),
}
# How much of the time goes into keeping the date; what is left finds the earliest that can be.
FOR_THE_DATE = 0.6
# A value and its bound, a minute or a cost or a number of visits, and the seconds that it took.
OnBetterPlan = Callable[[float, float, float], None]


def plan(
    question: Question,
    *,
    effort: Effort | None = None,
    on_better: OnBetterPlan | None = None,
    stop: Callable[[], bool] | None = None,
) -> Answer:
    """The best plan by the aim of the question; where none is done by the day it is due, the earliest of all.

    `on_better` hears of each better plan and bound. Once `stop()` is true the best so far is the answer.
    """
    patience = Patience(effort=effort or Effort(), stop=stop)
    if question.due is None:
        return sought(question, question.aim, patience, on_better)
    by_then = sought(question, question.aim, patience.part(FOR_THE_DATE), on_better, until=question.due)
    if isinstance(by_then, Plan) or patience.over:
        return by_then
    earliest = sought(question, Wish.EARLIEST, patience, None)
    return _held_against(question.due, by_then, earliest)


def sought(
    question: Question,
    wish: Wish,
    patience: Patience,
    on_better: OnBetterPlan | None,
    *,
    until: int | None = None,
) -> Plan | Never | Open:
    """The best plan of those that are done by a minute. Where there never is one, it is said why."""

    def tell(value: int, bound: int, seconds: float) -> None:
        if on_better is not None:
            on_better(counted(question, wish, value), counted(question, wish, bound), seconds)

    result = solve(as_project(question, until=until), AIMS[wish], patience=patience, on_better=tell)
    if result.outcome is Outcome.NONE:
        return Never(reasons=reasons(question) if until is None else ())
    return Open(seconds=result.seconds) if result.outcome is Outcome.OPEN else plan_of(question, result, wish)


def _held_against(due: int, by_then: Never | Open, earliest: Plan | Never | Open) -> Answer:
    if not isinstance(earliest, Plan) or earliest.finish <= due:
        return earliest
    return Late(due=due, earliest=earliest, proven=isinstance(by_then, Never) or earliest.bound > due)
