"""Tasks, ways, draws and lags, as far as no instance of the literature has them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.planner.project import (
    Aim,
    Closing,
    Draw,
    Lag,
    Project,
    Resource,
    Side,
    Task,
    Way,
)
from scheduling.engine.planner.result import Outcome
from scheduling.engine.planner.solving import solve
from scheduling.engine.planner.watched import Effort, Patience
from tests.engine.planner.published import instance

HALL = Resource(key="hall", capacity=2)


def task(key: str, *ways: Way) -> Task:
    return Task(key=key, ways=ways)


def in_hall(minutes: int, amount: int = 1, **more: object) -> Way:
    return replace(Way(minutes=minutes, draws=(Draw(resource="hall", amount=amount),)), **more)  # type: ignore[arg-type]


def project(*tasks: Task, **more: object) -> Project:
    return replace(Project(tasks=tasks, resources=(HALL,), within=(0, 100)), **more)  # type: ignore[arg-type]


def test_no_work_is_over_at_once() -> None:
    result = solve(project())

    assert (result.outcome, result.value, result.gap) == (Outcome.BEST, 0, 0.0)


def test_the_quicker_of_two_ways_is_taken_unless_the_cheaper_is_asked_for() -> None:
    work = project(task("a", Way(key="quick", minutes=5, cost=9), Way(key="slow", minutes=8, cost=1)))

    quick, cheap = solve(work), solve(work, (Aim.COST, Aim.FINISH))

    assert (quick.placed["a"].way.key, quick.value) == ("quick", 5)
    assert (cheap.placed["a"].way.key, cheap.values) == ("slow", {Aim.COST: 1, Aim.FINISH: 8})


def test_what_is_taken_already_is_worked_around() -> None:
    hall = Resource(key="hall", capacity=2, taken=(((3, 10), 1),))
    work = project(task("a", in_hall(5, amount=2)), task("b", in_hall(4)), resources=(hall,))

    result = solve(work)

    assert (result.placed["b"].start, result.placed["a"].start) == (0, 10)


def test_a_draw_of_a_part_leaves_the_rest_to_others() -> None:
    first_half = Draw(resource="hall", amount=2, begins=0, ends=5)
    work = project(*(task(key, Way(minutes=10, draws=(first_half,))) for key in "abc"))

    result = solve(work)

    assert [result.placed[key].start for key in "abc"] == [0, 5, 10]


def test_a_task_ends_with_its_closing() -> None:
    closing = Closing(minutes=2, within=((0, 4), (20, 22), (30, 40)))
    work = project(task("a", in_hall(5, amount=2, closing=closing)), task("b", in_hall(1, amount=2)))

    result = solve(work)

    assert (result.placed["a"].closes, result.placed["a"].end) == (20, 22)


@pytest.mark.parametrize(("since", "latest"), [(Side.START, 7), (Side.END, 12)])
def test_a_greatest_lag_counts_from_the_start_or_from_the_end(since: Side, latest: int) -> None:
    """The second may start from minute 30 on; the first is put off until it is near enough."""
    work = project(
        task("a", Way(minutes=5)),
        task("b", Way(minutes=1, starts=((30, 40),))),
        lags=(Lag(before="a", after="b", greatest=7, least=-50, since=since),),
    )

    result = solve(work, (Aim.FINISH, Aim.STARTS))

    assert result.placed["b"].start - result.placed["a"].start == latest


@pytest.mark.parametrize(
    "impossible",
    [
        project(task("a")),
        project(task("a", Way(minutes=101))),
        project(task("a", in_hall(5, amount=3))),
        project(task("a", in_hall(60, amount=2)), task("b", in_hall(60))),
        project(
            task("a", Way(minutes=5)),
            task("b", Way(minutes=5)),
            lags=(Lag(before="a", after="b"), Lag(before="b", after="a")),
        ),
    ],
)
def test_what_cannot_be_done_is_a_result(impossible: Project) -> None:
    result = solve(impossible)

    assert (result.outcome, dict(result.placed), result.value) == (Outcome.NONE, {}, None)


def test_a_search_is_told_of_and_stopped_with_the_best_so_far() -> None:
    """The hardest of the published instances is far from proven when its first plan is heard of."""
    heard: list[tuple[int, int]] = []
    patience = Patience(effort=Effort(seconds=600.0), stop=lambda: bool(heard))

    result = solve(
        instance("j30/j3013_1.sm"),
        patience=patience,
        on_better=lambda value, bound, _: heard.append((value, bound)),
    )

    assert result.outcome is Outcome.FOUND
    assert result.value is not None
    assert result.bound <= 58 <= result.value <= heard[0][0]
    assert result.gap == pytest.approx((result.value - result.bound) / result.value)


def test_a_search_that_is_given_up_before_anything_is_found_says_so() -> None:
    """Where lags go in circles no plan is made at once."""
    given_up = Patience(effort=Effort(seconds=0.0))

    result = solve(instance("ubo/ubo20_psp1.sch"), patience=given_up)

    assert (result.outcome, dict(result.placed), result.gap) == (Outcome.OPEN, {}, 1.0)
