"""Rooms that take so many people: classes with their seats and instructor, and single people at a torch."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.exceptions import ValidationError

from scheduling.errors import NoStart
from scheduling.models import Seat, SupplyUse
from scheduling.services.cancelling import cancel_session
from scheduling.services.seats import cancel_seat, reserve_bench_torch
from studios.models import Draw, Person, Supply
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_seats import another_student
from tests.worlds import Town, add_supply, local

pytestmark = pytest.mark.django_db


def a_room(town: Town, name: str, limit: int, *equipment: str) -> Supply:
    """A room of the studio in which some equipment stands."""
    rows = [town.equipment[each] for each in equipment]
    room = add_supply(town, rows[0].studio, "people", name, limit)
    for row in rows:
        row.room = room
        row.full_clean()
        row.save()
    return room


def reasons_of(refused: NoStart) -> list[dict[str, Any]]:
    """Each reason of a refusal: its code, its sentence, and until when."""
    reasons = refused.facts["reasons"]
    assert isinstance(reasons, list)
    return reasons


def hall(town: Town, limit: int = 9) -> Supply:
    return a_room(town, "hall", limit, "furnace", "hole 1", "bench 1", "warmer 1", "hole 2", "bench 2")


def there(room: Supply) -> list[tuple[float, str]]:
    """How many people come at once, and what they come to."""
    rows = SupplyUse.objects.filter(supply=room).order_by("starts_at", "pk")
    return [(use.amount, use.occupancy.equipment.name) for use in rows]


def test_two_classes_of_six_are_too_many_for_a_hall_of_nine(town: Town) -> None:
    room = hall(town)
    first = book(town, "blowing", local(1, 18))

    with pytest.raises(NoStart) as no:
        book(town, "blowing", local(1, 19), town.other_instructor)

    assert str(no.value) == (
        "hall takes 9 people at once; with 7 more there would be 14 from Tue 4 Mar 19:00 to 21:00, "
        "beside blowing."
    )
    assert reasons_of(no.value)[0]["until"] == local(1, 21)
    assert there(room) == [(7, "furnace")]
    cancel_session(actor=town.instructor, session=first)
    book(town, "blowing", local(1, 19), town.other_instructor)
    assert broken() == []


def test_the_next_class_comes_when_the_clean_up_is_done(town: Town) -> None:
    hall(town)
    book(town, "paperweights", local(1, 18))

    with pytest.raises(NoStart, match="hall takes 9"):
        book(town, "paperweights", local(1, 14, 45), town.other_instructor)
    book(town, "paperweights", local(1, 14, 30), town.other_instructor)


def test_people_stay_in_the_hall_when_their_glory_hole_is_lit_later(town: Town) -> None:
    room = a_room(town, "hall", 9, "hole 1", "hole 2")
    book(town, "blowing", local(1, 18))

    book(town, "blowing", local(1, 14), town.other_instructor)

    assert there(room) == [(7, "hole 1"), (7, "hole 1")]
    with pytest.raises(NoStart, match="hall takes 9"):
        book(town, "paperweights", local(1, 18, 30), town.other_instructor)


def test_a_third_person_finds_a_free_torch_but_no_room(town: Town) -> None:
    room = a_room(town, "flame room", 2, *(torch.name for torch in town.torches))
    seats = [sit(town, number, another_student(town, number)) for number in (1, 2)]

    with pytest.raises(NoStart, match="flame room takes 2 people at once; with 1 more there would be 3"):
        sit(town, 3, town.student)
    cancel_seat(actor=seats[0].person, seat=seats[0])
    sit(town, 3, town.student)

    assert there(room) == [(1, "torch 2"), (1, "torch 3")]


def sit(town: Town, number: int, person: Person) -> Seat:
    torch = town.equipment[f"torch {number}"]
    return reserve_bench_torch(actor=person, torch=torch, starts_at=local(1, 12), ends_at=local(1, 14))


def test_equipment_stands_in_a_room_of_its_own_studio_and_draws_nobody(town: Town) -> None:
    room = a_room(town, "flame room", 9, "torch 1")
    furnace = town.equipment["furnace"]

    furnace.room = room
    with pytest.raises(ValidationError, match="A room of the same studio"):
        furnace.full_clean()
    with pytest.raises(ValidationError, match="A room is filled by people"):
        Draw(equipment=town.equipment["torch 1"], supply=room, amount=1).full_clean()


def test_exhaust_is_a_supply_like_any_other(town: Town) -> None:
    fan = add_supply(town, town.flame, "exhaust", "fan", 1500)
    for torch in town.torches:
        Draw.objects.create(equipment=torch, supply=fan, amount=400)
    for number in (1, 2, 3):
        sit(town, number, another_student(town, number))

    with pytest.raises(NoStart, match="fan gives 1500 m³/h; with this it would have to give 1600"):
        sit(town, 4, town.student)
