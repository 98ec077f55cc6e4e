"""The planner on problems of the literature, each to its published optimum (papers: fixtures/rcpsp)."""

from __future__ import annotations

import pytest

from scheduling.engine.planner.result import Outcome
from scheduling.engine.planner.solving import solve
from scheduling.engine.planner.watched import Effort, Patience
from tests.engine.planner.published import instance, optima


@pytest.mark.parametrize("name", optima())
def test_it_finds_and_proves_the_published_optimum(name: str) -> None:
    optimum = optima()[name]

    result = solve(instance(name), patience=Patience(effort=Effort(seconds=600.0)))

    if optimum == "unsat":
        assert (result.outcome, dict(result.placed)) == (Outcome.NONE, {})
    else:
        assert (result.outcome, result.value, result.bound) == (Outcome.BEST, optimum, optimum)
