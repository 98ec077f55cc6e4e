"""On small questions the planner is held against a judge that tries every start of everything."""

from __future__ import annotations

import os
from dataclasses import replace

import pytest

from scheduling.engine.planner.answers import Done, Fired, Late, Never, Plan
from scheduling.engine.planner.loads import Wish
from scheduling.engine.planner.planning import plan
from tests.engine.planner.exhaustive import Judge, Option, go_together
from tests.engine.planner.small_questions import small_question

HOW_MANY = int(os.environ.get("SMALL_QUESTIONS", "120"))
SEEDS = range(HOW_MANY)


def option_taken(judge: Judge, placed: Fired | Done) -> Option:
    """The one option, of all that were counted out, that is what a plan says."""
    held = ("kiln", placed.kiln_id) if isinstance(placed, Fired) else ("station", placed.station_id)
    begin = placed.loading if isinstance(placed, Fired) else placed.start
    end = placed.done if isinstance(placed, Fired) else placed.end
    unload = placed.unload if isinstance(placed, Fired) else placed.end
    (option,) = {
        option
        for options in judge.options
        for option in options
        if (option.key, option.begin, option.start, option.unload, option.end)
        == (placed.key, begin, placed.start, unload, end)
        and option.held == (None if held[1] is None else held)
    }
    return option


def taken(judge: Judge, answer: Plan) -> list[Option]:
    """What a plan holds, after it has been seen that all of it goes together."""
    options = [option_taken(judge, fired) for fired in answer.firings]
    options += [option_taken(judge, step) for step in answer.steps]
    assert go_together(judge.question, options)
    assert answer.finish == max(option.end for option in options)
    assert answer.cost == pytest.approx(sum(option.cost for option in options))
    assert len(answer.visits) == len({day for option in options for day in option.comes})
    return options


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_is_over_earlier_than_what_is_planned(seed: int) -> None:
    question = small_question(seed)
    judge = Judge(question)

    answer = plan(question)

    if (earliest := judge.earliest()) is None:
        assert isinstance(answer, Never)
        assert answer.reasons
    else:
        assert isinstance(answer, Plan)
        assert taken(judge, answer)
        assert (answer.finish, answer.bound, answer.proven, answer.gap) == (earliest, earliest, True, 0)


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_what_cannot_be_done_by_its_day_is_told_with_the_earliest_that_can(seed: int) -> None:
    question = small_question(seed)
    earliest = Judge(question).earliest()
    if earliest is None:
        assert isinstance(plan(replace(question, due=10**6)), Never)
        return

    in_time = plan(replace(question, due=earliest))
    late = plan(replace(question, due=earliest - 1, aim=Wish.CHEAPEST))

    assert isinstance(in_time, Plan)
    assert in_time.finish == earliest
    assert isinstance(late, Late)
    assert (late.due, late.earliest.finish, late.proven) == (earliest - 1, earliest, True)


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_nothing_costs_less_than_what_is_planned(seed: int) -> None:
    question = replace(small_question(seed, most=4), aim=Wish.CHEAPEST)
    judge = Judge(question)

    answer = plan(question)

    if (cheapest := judge.cheapest()) is None:
        assert isinstance(answer, Never)
    else:
        assert isinstance(answer, Plan)
        assert taken(judge, answer)
        assert (answer.cost, answer.bound, answer.proven) == pytest.approx((cheapest, cheapest, True))


@pytest.mark.parametrize("seed", SEEDS[::4])
def test_nobody_comes_less_often_than_what_is_planned(seed: int) -> None:
    question = replace(small_question(seed, most=4), aim=Wish.FEWEST_VISITS)
    judge = Judge(question)

    answer = plan(question)

    if (fewest := judge.fewest_visits()) is None:
        assert isinstance(answer, Never)
    else:
        assert isinstance(answer, Plan)
        assert taken(judge, answer)
        assert (len(answer.visits), answer.bound, answer.proven) == (fewest, fewest, True)


def test_enough_of_the_small_questions_are_hard() -> None:
    """A judge of easy questions proves little."""
    questions = [small_question(seed) for seed in SEEDS]

    answered = [question for question in questions if isinstance(plan(question), Plan)]

    assert min(len(answered), HOW_MANY - len(answered)) >= HOW_MANY // 4
    assert sum(1 for q in answered if len(q.firings) >= 6) >= HOW_MANY // 20
    assert sum(1 for q in answered if q.attended) >= HOW_MANY // 10
    assert sum(1 for q in answered if any(gap.greatest_min is not None for gap in q.gaps)) >= HOW_MANY // 10
