"""Who has to be there, and from when on: gas that burns already, set-up, and hot stations with one place."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.engine.records import Duty, FiringRecord, Kind, Lot, Placement, Refusal, Taken
from scheduling.engine.search import place
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from studios.thermal import Recipe
from tests.engine.reference.small import END, an_hour, both_find, world_of
from tests.engine.reference.town import HOLES, OVENS, SOFT, THINGS, piece

EQUIPMENT = {each.id: each for each in THINGS}
GAS_ANNEALER = replace(EQUIPMENT[13], bodies=((0, OVENS[0]),), draws=())
TWO_PLACES = replace(EQUIPMENT[2], bodies=((0, HOLES[0]),), draws=(), places=2)
NOW = 300
BEADS = an_hour(fires=(Kind.ANNEALER,))


def lit(minute: int) -> Taken:
    """A firing at hold from minute 200 on, with pieces that come until 500."""
    lot = Lot(piece=piece(SOFT, 10.0), footprint_cm2=30, in_from=200, in_until=500, held_by="another class")
    record = FiringRecord(id=3, recipe=Recipe.ANNEAL, lots=(lot,), ready=200, last_in=500)
    return Taken(
        apparatus_id=13,
        place=1,
        span=(minute, 1000),
        core=(minute, 1000),
        held_by="another class",
        occupancy_id=3,
        firing=record,
    )


def minded(hours: tuple[int, int], lit_at: int = 190) -> World:
    """It is minute 300, and somebody who may light gas is there for some hours."""
    world = world_of([GAS_ANNEALER], taken=[lit(lit_at)], hours={Duty.LIGHT: (hours,)})
    return replace(world, now=NOW)


def test_who_came_after_the_lighting_minds_a_gas_annealer_that_burns() -> None:
    world = minded((250, END))

    answer = place(world, BEADS, 320)

    assert isinstance(answer, Placement)
    assert answer.firings[0].joins == 3


def test_somebody_minds_it_from_now_on_until_its_program_has_ended() -> None:
    world = minded((NOW + 10, END))

    answer = place(world, BEADS, 320)

    assert isinstance(answer, Refusal)
    assert "burns gas" in answer.reasons[0].sentence


def test_gas_that_is_yet_to_be_lit_needs_somebody_from_the_lighting_on() -> None:
    later = replace(minded((320, END), lit_at=310), taken={13: [lit(310)]})

    answer = place(later, BEADS, 340)

    assert isinstance(answer, Refusal)


@pytest.mark.parametrize("hours", [(0, END), (250, END), (NOW, 700), (NOW + 1, END), (0, 560)])
def test_starts_at_a_burning_annealer_are_those_of_the_slow_judge(hours: tuple[int, int]) -> None:
    world = minded(hours)

    space, judged = both_find(world, BEADS)

    placed = {start for start in range(1000) if isinstance(place(world, BEADS, start), Placement)}
    assert space == judged == placed


def test_no_set_up_lies_in_the_past() -> None:
    world = replace(world_of([]), now=NOW)
    set_up = replace(an_hour(), setup_min=25)

    refused, placed = place(world, set_up, NOW + 24), place(world, set_up, NOW + 25)

    assert isinstance(refused, Refusal)
    assert [(reason.code, reason.not_before) for reason in refused.reasons] == [("too-soon", NOW + 25)]
    assert "is less than 25 minutes ahead" in refused.reasons[0].sentence
    assert isinstance(placed, Placement)
    assert start_space(world, set_up, 0, 400) == ((NOW + 25, 400),)


def test_the_studio_s_notice_counts_where_it_is_longer_than_the_set_up() -> None:
    world = replace(world_of([]), now=NOW)
    world = replace(world, studios={1: replace(world.studios[1], notice_min=60)})

    space = start_space(world, replace(an_hour(), setup_min=25), 0, 400)

    assert space == ((NOW + 60, 400),)


def test_a_glory_hole_is_used_by_one_session_at_a_time_whatever_its_record_says() -> None:
    world = world_of([TWO_PLACES])

    space, judged = both_find(world, an_hour((Kind.GLORY_HOLE, 2)))

    assert space == judged == set()
    assert isinstance(place(world, an_hour((Kind.GLORY_HOLE, 2)), 500), Refusal)
    assert isinstance(place(world, an_hour((Kind.GLORY_HOLE, 1)), 500), Placement)
