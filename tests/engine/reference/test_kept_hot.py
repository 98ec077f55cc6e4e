"""Keeping a hole hot betters a start and decides none; what it draws is there to be had."""

from __future__ import annotations

from collections.abc import Iterator

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from scheduling.engine.heat import relit
from scheduling.engine.records import Ask, Placement, Use
from scheduling.engine.search import place
from scheduling.engine.world import World
from tests.engine.reference.minutes import Minutes
from tests.engine.reference.parts import HOT
from tests.engine.reference.random_worlds import LENGTH, cases
from tests.engine.reference.slow import HAIR


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases(), st.lists(st.integers(0, LENGTH - 1), min_size=8, max_size=8))
def test_a_hold_decides_no_start_and_overdraws_no_supply(
    case: tuple[World, Ask, int, int], minutes: list[int]
) -> None:
    world, ask, begin, _ = case
    for start in (begin + minute for minute in minutes):
        heated, held = place(world, ask, start, keep_hot=False), place(world, ask, start)
        assert isinstance(heated, Placement) == isinstance(held, Placement)
        if isinstance(held, Placement) and isinstance(heated, Placement):
            assert [f.held.span for f in held.firings] == [f.held.span for f in heated.firings]
            assert list(_overdrawn(world, held)) == []


def _overdrawn(world: World, placement: Placement) -> Iterator[int]:
    """The supplies that would give more, in minutes in which it draws, than they can."""
    core = (placement.start, placement.end)
    own = [draw for held in placement.held for draw in held.draws]
    own += [draw for firing in placement.firings for draw in firing.held.draws]
    gone, moved = relit(world, placement.held, core, placement.kept_hot)
    joined = {firing.joins for firing in placement.firings}
    for supply_id in {key for key, _ in own}:
        mine = [use for key, use in own if key == supply_id]
        stood = [
            use
            for use in world.supplies[supply_id].uses
            if use.occupancy_id is None or not {use.occupancy_id} & (gone | joined)
        ]
        later = [use for key, use in moved if key == supply_id]
        if _most(mine, [*stood, *later]) > world.supplies[supply_id].limit + HAIR:
            yield supply_id


def _most(mine: list[Use], others: list[Use]) -> float:
    first, last = min(use.span[0] for use in mine), max(use.span[1] for use in mine)
    minutes = Minutes(first=first, last=last)
    total = minutes.added_up((use.span, use.amount) for use in (*mine, *others))
    return float(total[minutes.marked(use.span for use in mine)].max())


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases(), st.integers(0, LENGTH - 1))
def test_a_hold_lies_between_two_uses(case: tuple[World, Ask, int, int], minute: int) -> None:
    world, ask, begin, _ = case
    answer = place(world, ask, begin + minute)
    for held in answer.held if isinstance(answer, Placement) else ():
        if world.apparatus[held.apparatus_id].kind in HOT:
            uses = (claim.core for claim in world.claims(held.apparatus_id))
            assert not any(use[0] < held.exclusive[1] and held.exclusive[0] < use[1] for use in uses)
