"""The start space is, to the minute, what the slow judge finds in worlds of two studios.

`REFERENCE_WORLDS` asks for more worlds than the suite compares.
"""

from __future__ import annotations

import os

from hypothesis import HealthCheck, given, settings

from scheduling.engine.records import Ask
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.random_worlds import cases
from tests.engine.reference.slow import starts_that_work

WORLDS = int(os.environ.get("REFERENCE_WORLDS", "120"))


@settings(max_examples=WORLDS, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_the_start_space_is_what_the_slow_judge_finds(case: tuple[World, Ask, int, int]) -> None:
    world, ask, begin, until = case

    found = start_space(world, ask, begin, until)

    minutes = {minute for span in found for minute in range(*span)}
    assert minutes == starts_that_work(world, ask, begin, until)
