"""What is placed one start at a time is what the spans of starts say, at their ends and between."""

from __future__ import annotations

import os

from hypothesis import HealthCheck, given, settings

from scheduling.engine.records import Ask, Placement
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.random_worlds import cases

WORLDS = int(os.environ.get("REFERENCE_WORLDS", "120"))


@settings(max_examples=WORLDS, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_a_start_is_placed_just_where_the_start_space_has_it(case: tuple[World, Ask, int, int]) -> None:
    world, ask, begin, until = case
    spans = start_space(world, ask, begin, until)
    edges = {edge for span in spans for edge in (span[0] - 1, span[0], sum(span) // 2, span[1] - 1, span[1])}
    tried = sorted(m for m in edges | set(range(begin, until, 130)) if begin <= m < until)

    placed = [start for start in tried if isinstance(place(world, ask, start), Placement)]

    assert placed == [start for start in tried if any(first <= start < last for first, last in spans)]
