"""The start space holds just the starts that can be placed, in every world that can be thought of."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.engine.records import Ask, Placement
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from studios.thermal import Glass
from tests.engine.test_search import HARD, HORIZON, SOFT, ask, worlds


def starts_one_by_one(world: World, wanted: Ask, begin: int, until: int) -> set[int]:
    """Each minute placed by itself."""
    return {s for s in range(begin, until) if isinstance(place(world, wanted, s), Placement)}


def minutes(spans: tuple[tuple[int, int], ...]) -> set[int]:
    return {minute for span in spans for minute in range(*span)}


@settings(max_examples=40, deadline=None)
@given(worlds(), st.sampled_from([SOFT, HARD]), st.integers(0, 30), st.integers(0, 30))
def test_all_starts_of_a_class(world: World, glass: Glass, setup: int, cleanup: int) -> None:
    wanted = ask(glass, setup_min=setup, cleanup_min=cleanup)

    found = start_space(world, wanted, 0, HORIZON)

    assert minutes(found) == starts_one_by_one(world, wanted, 0, HORIZON)


@settings(max_examples=100, deadline=None)
@given(worlds(), st.sampled_from([SOFT, HARD]))
def test_all_starts_at_an_annealer_alone(world: World, glass: Glass) -> None:
    wanted = ask(glass, stations=(), person_id=None)

    found = start_space(world, wanted, 0, HORIZON)

    assert minutes(found) == starts_one_by_one(world, wanted, 0, HORIZON)
