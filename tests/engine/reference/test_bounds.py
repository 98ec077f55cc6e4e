"""A refusal never promises too late a start: none below its bound works."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.records import Ask, Refusal
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.random_worlds import LENGTH, cases


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases(), st.lists(st.integers(0, LENGTH - 1), min_size=5, max_size=5))
def test_no_start_below_the_bound_of_a_refusal_works(
    case: tuple[World, Ask, int, int], minutes: list[int]
) -> None:
    world, ask, begin, until = case
    for start in (begin + minute for minute in minutes):
        answer = place(world, ask, start)
        if isinstance(answer, Refusal):
            bound = until if answer.not_before is None else min(until, answer.not_before)
            assert answer.not_before is None or answer.not_before > start
            assert start_space(world, ask, start, bound) == ()
