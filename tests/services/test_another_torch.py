"""Somebody who keeps a torch takes another one instead: nobody sits at two at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine

from scheduling.errors import NoBenchTime, NoStart, NotAllowed
from scheduling.models import Occupancy, Seat, SeatStatus
from scheduling.services.keeping import book_kept, keep_another_torch, keep_torch
from studios.models import Equipment, Person
from tests.invariants import broken
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nine() -> Iterator[None]:
    """Monday at nine."""
    with time_machine.travel(local(0, 9), tick=False):
        yield


def kept(town: Town, number: int, person: Person | None = None) -> Seat:
    """From noon to two on Tuesday."""
    return keep_torch(
        actor=person or town.student,
        torch=town.torches[number - 1],
        starts_at=local(1, 12),
        ends_at=local(1, 14),
    )


def changed(town: Town, seat: Seat, torch: Equipment, hour: int = 12, actor: Person | None = None) -> Seat:
    return keep_another_torch(
        actor=actor or town.student,
        kept=seat,
        torch=torch,
        starts_at=local(1, hour),
        ends_at=local(1, hour + 2),
    )


def test_the_first_torch_is_free_again_and_the_second_is_kept(town: Town) -> None:
    first = kept(town, 1)

    second = changed(town, first, town.torches[1])

    first.refresh_from_db()
    assert (first.status, second.status) == (SeatStatus.CANCELLED, SeatStatus.KEPT)
    assert set(Occupancy.objects.values_list("equipment", flat=True)) == {town.torches[1].pk}
    assert broken() == []


def test_the_last_oxygen_goes_with_whoever_changes(town: Town) -> None:
    everybody = [town.student, town.other_student, town.technician, town.instructor, town.other_instructor]
    seats = [kept(town, number, person) for number, person in enumerate(everybody, start=1)]

    second = changed(town, seats[0], town.torches[6])

    assert second.torch == town.torches[6]
    assert broken() == []


def test_a_refusal_leaves_the_first_one_kept(town: Town) -> None:
    first = kept(town, 1)
    kept(town, 2, town.other_student)

    with pytest.raises(NoStart):
        changed(town, first, town.torches[1])
    with pytest.raises(NoBenchTime):
        changed(town, first, town.torches[2], hour=7)

    first.refresh_from_db()
    assert first.status == SeatStatus.KEPT
    assert Occupancy.objects.filter(equipment=town.torches[0]).exists()


def test_the_same_torch_at_the_same_hours_stays_until_the_time_it_has(town: Town) -> None:
    first = kept(town, 1)

    with time_machine.travel(local(0, 9) + dt.timedelta(minutes=5), tick=False):
        again = changed(town, first, town.torches[0])

    assert (again, again.kept_until) == (first, first.kept_until)


def test_what_was_booked_meanwhile_is_left_alone(town: Town) -> None:
    first = kept(town, 1)
    book_kept(actor=town.student, seat=Seat.objects.get(pk=first.pk))

    later = changed(town, first, town.torches[1], hour=15)

    first.refresh_from_db()
    assert (first.status, later.status) == (SeatStatus.BOOKED, SeatStatus.KEPT)


def test_nobody_takes_a_torch_from_somebody_else(town: Town) -> None:
    first = kept(town, 1)

    with pytest.raises(NotAllowed):
        changed(town, first, town.torches[1], actor=town.other_student)
