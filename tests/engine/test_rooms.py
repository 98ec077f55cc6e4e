"""A room takes so many people at once: seats, whoever teaches and assists, from set-up to clean-up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pytest

from scheduling.engine.records import Apparatus, Ask, Kind, Placement, Refusal, SupplyRecord, Taken, Use
from scheduling.engine.search import place
from scheduling.engine.spans import Span
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from tests.engine.reference.small import END, an_hour, both_find, world_of
from tests.engine.reference.town import HOLES, thing

HALL, LOFT = 31, 32
SAW = thing(15, Kind.COLD_STATION, places=4, room_id=HALL)
SAW_UPSTAIRS = thing(16, Kind.COLD_STATION, room_id=LOFT)


def people(count: int, span: Span, *, occupancy_id: int | None = None) -> Use:
    return Use(span=span, amount=count, held_by="Bowls", occupancy_id=occupancy_id)


def rooms(*, hall: Iterable[Use] = (), loft: Iterable[Use] = ()) -> list[SupplyRecord]:
    """A hall and a loft for nine people each, with who is there already."""
    return [
        SupplyRecord(id=HALL, name="The hall", unit="people", limit=9, uses=tuple(hall)),
        SupplyRecord(id=LOFT, name="The loft", unit="people", limit=9, uses=tuple(loft)),
    ]


def cutting(count: int, **facts: int) -> Ask:
    """A class of an hour at one cold station."""
    return replace(an_hour((Kind.COLD_STATION, 1)), people=count, **facts)  # type: ignore[arg-type]


def world(things: Iterable[Apparatus], *, hall: Iterable[Use] = (), loft: Iterable[Use] = ()) -> World:
    return world_of(list(things), supplies=rooms(hall=hall, loft=loft))


@pytest.mark.parametrize(("count", "works"), [(4, True), (5, False)])
def test_the_ninth_person_comes_in_and_the_tenth_does_not(count: int, works: bool) -> None:
    hall = world([SAW], hall=[people(5, (0, 500))])

    assert isinstance(place(hall, cutting(count), 100), Placement) is works


def test_the_refusal_is_about_people_and_until_when_they_stay() -> None:
    hall = world([SAW], hall=[people(7, (60, 240))])

    answer = place(hall, cutting(7), 100)

    assert isinstance(answer, Refusal)
    (reason,) = answer.reasons
    assert reason.code == "room-full"
    assert reason.sentence == (
        "The hall takes 9 people at once; with 7 more there would be 14 from Thu 1 Jan 01:40 to 02:40, "
        "beside Bowls."
    )
    assert (reason.until, answer.not_before) == (240, 240)


def test_set_up_and_clean_up_count() -> None:
    hall = world([SAW], hall=[people(7, (300, 400))])

    found = start_space(hall, cutting(7, setup_min=20, cleanup_min=10), 200, 600)

    assert found == ((200, 231), (420, 600))


def test_a_class_too_large_for_the_room_can_never_be_held() -> None:
    answer = place(world([SAW]), cutting(10), 100)

    assert isinstance(answer, Refusal)
    assert answer.reasons[0].sentence == "The hall takes 9 people at once, and class brings 10."
    assert answer.not_before is None


def test_people_are_entered_once_in_each_room_whatever_is_held_there() -> None:
    bench = thing(3, Kind.BENCH, room_id=HALL)
    two_rooms = world([SAW, SAW_UPSTAIRS, bench])
    asked = replace(an_hour((Kind.BENCH, 1), (Kind.COLD_STATION, 5)), people=6, setup_min=15)

    answer = place(two_rooms, asked, 100)

    assert isinstance(answer, Placement)
    entered = [(supply, use.amount, use.span) for held in answer.held for supply, use in held.draws]
    assert sorted(entered) == [(HALL, 6, (85, 160)), (LOFT, 6, (85, 160))]


def test_an_alike_station_in_another_room_is_the_way_out() -> None:
    two_rooms = world([SAW, SAW_UPSTAIRS], hall=[people(7, (0, 500))])

    answer = place(two_rooms, cutting(7), 100)
    ours, judged = both_find(two_rooms, cutting(7))

    assert isinstance(answer, Placement)
    assert [held.apparatus_id for held in answer.held] == [SAW_UPSTAIRS.id]
    assert ours == judged == set(range(1000))


def test_both_rooms_must_take_a_class_that_is_in_both() -> None:
    two_rooms = world([SAW, SAW_UPSTAIRS], hall=[people(4, (0, 200))], loft=[people(4, (300, 500))])
    asked = replace(an_hour((Kind.COLD_STATION, 5)), people=7)

    ours, judged = both_find(two_rooms, asked)

    assert ours == judged == {*range(200, 241), *range(500, 1000)}


def test_the_annealer_brings_nobody_into_its_room() -> None:
    oven = thing(11, Kind.ANNEALER, room_id=LOFT, bodies=((0, HOLES[0]),), capacity_cm2=100)
    full = world([SAW, oven], loft=[people(9, (0, END))])
    asked = replace(an_hour((Kind.COLD_STATION, 1), fires=(Kind.ANNEALER,)), people=7)

    assert isinstance(place(full, asked, 600), Placement)


def test_who_comes_after_at_a_glory_hole_stays_in_the_room_though_it_is_lit_later() -> None:
    hole = thing(2, Kind.GLORY_HOLE, room_id=HALL, bodies=((0, HOLES[0]),), working_c=1100.0)
    after = Taken(apparatus_id=2, place=1, span=(400, 600), core=(440, 600), held_by="Bowls", occupancy_id=5)
    there = people(7, (380, 620), occupancy_id=5)
    hall = world_of([hole], taken=[after], supplies=rooms(hall=[there]))
    asked = replace(an_hour((Kind.GLORY_HOLE, 1)), people=3)

    ours, judged = both_find(hall, asked)

    assert ours == judged
    assert max(minute for minute in ours if minute < 440) == 320
    assert min(minute for minute in ours if minute > 440) == 620
