"""The charges that a furnace can have are, to the minute, those that the slow judge finds."""

from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.charges import charge_refused, charge_starts, propose_charge
from scheduling.engine.records import Ask, Refusal
from scheduling.engine.world import World
from tests.engine.reference.charging import charges_that_fit, proposed
from tests.engine.reference.random_worlds import cases

Case = tuple[World, Ask, int, int]
worlds_of_their_own = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))


@worlds_of_their_own
@given(cases())
def test_a_whole_charge_starts_when_all_places_are_free_and_somebody_charges(case: Case) -> None:
    world, _, begin, until = case
    for furnace in world.pots:
        found = {m for span in charge_starts(world, furnace, begin, until) for m in range(*span)}

        judged = charges_that_fit(world, furnace, begin, until)

        assert found == set(judged)
        assert found == {m for m in range(begin, until) if charge_refused(world, furnace, m) is None}


@worlds_of_their_own
@given(cases(), st.sampled_from([0.0, 3.0, 11.0]), st.integers(0, 1300), st.integers(0, 1300))
def test_the_first_charge_that_lasts_is_proposed(case: Case, kg: float, since: int, by: int) -> None:
    world, _, begin, _ = case
    first, last = begin + since, begin + since + by
    for furnace in world.pots:
        found = propose_charge(world, furnace, kg=kg, since=first, ends_by=last)

        judged = proposed(world, furnace, kg, max(first, world.now), last)

        assert (None if isinstance(found, Refusal) else found) == judged
