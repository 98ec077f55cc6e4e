"""Students reserve seats and torches; each goes to one person, and a person is in one place at a time."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.errors import (
    InvalidInput,
    NoBenchTime,
    NoSeatLeft,
    NoStart,
    NotAllowed,
    NotQualified,
    Over,
    PersonBusy,
    SeatTaken,
)
from scheduling.models import Message, Occupancy, PersonSpan, Seat
from scheduling.services.cancelling import cancel_session
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Closure, Person
from tests.services.test_booking import book
from tests.worlds import Town, local, sign_off

pytestmark = pytest.mark.django_db


def bench(
    town: Town, number: int, begin: dt.datetime, hours: float = 2, person: Person | None = None
) -> Seat:
    """Reserve a numbered torch in open bench time."""
    return reserve_bench_torch(
        actor=person or town.student,
        torch=town.equipment[f"torch {number}"],
        starts_at=begin,
        ends_at=begin + dt.timedelta(hours=hours),
    )


def another_student(town: Town, number: int) -> Person:
    """One more student of the flame studio."""
    person = Person.objects.create_user(f"s{number}@town.example", "glass", name=f"Student {number}")
    person.memberships.create(studio=town.flame, role="student")
    sign_off(person, town.flame, ["torch"])
    return person


def test_a_seat_at_the_torches_comes_with_a_numbered_torch_of_the_class(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    first = reserve_class_seat(actor=town.student, session=session)
    second = reserve_class_seat(actor=town.other_student, session=session, torch=town.equipment["torch 4"])

    assert (first.number, first.torch) == (1, town.equipment["torch 1"])
    assert second.torch == town.equipment["torch 4"]
    assert (first.starts_at, first.ends_at) == (session.starts_at, session.ends_at)


def test_the_last_seat_goes_and_the_next_is_refused_in_a_sentence(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    for number in range(5):
        reserve_class_seat(actor=another_student(town, number), session=session)

    with pytest.raises(NoSeatLeft, match="No seat is left in beads on Tue 4 Mar 2031, 18:00 CST"):
        reserve_class_seat(actor=town.student, session=session)


def test_a_torch_of_the_class_is_given_once_and_only_its_own_torches_are(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)

    with pytest.raises(SeatTaken, match="torch 1 is taken in this class"):
        reserve_class_seat(actor=town.other_student, session=session, torch=town.equipment["torch 1"])
    with pytest.raises(InvalidInput, match="torch 8 is not one of the torches of this class"):
        reserve_class_seat(actor=town.other_student, session=session, torch=town.equipment["torch 8"])


def test_a_student_is_at_one_place_at_a_time(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)

    with pytest.raises(PersonBusy, match="Student already has beads from Tue 4 Mar 2031, 18:00"):
        bench(town, 7, local(1, 17))
    with pytest.raises(PersonBusy):
        reserve_class_seat(actor=town.student, session=session)
    bench(town, 7, local(1, 15))


def test_an_instructor_is_no_student_of_his_own_class(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    with pytest.raises(PersonBusy):
        reserve_class_seat(actor=town.instructor, session=session)


def test_bench_time_holds_one_torch_with_its_purge_and_cooling_and_its_oxygen(town: Town) -> None:
    seat = bench(town, 3, local(1, 12))

    occupancy = Occupancy.objects.get(booking=seat.booking)
    assert (occupancy.starts_at, occupancy.ends_at) == (local(1, 11, 55), local(1, 14, 5))
    assert [phase.kind for phase in occupancy.phases.all()] == ["purge", "working", "cooling"]
    assert occupancy.supply_uses.get().amount == 6


def test_the_oxygen_that_feeds_five_refuses_a_sixth_torch(town: Town) -> None:
    for number in range(1, 6):
        bench(town, number, local(1, 12), person=another_student(town, number))

    with pytest.raises(NoStart, match=r"oxygen gives 30 L/min; with this it would have to give 36"):
        bench(town, 6, local(1, 13))
    bench(town, 6, local(1, 14, 5))


def test_torches_of_a_class_and_bench_time_draw_on_the_same_oxygen(town: Town) -> None:
    book(town, "beads", local(1, 18))

    with pytest.raises(NoStart, match="oxygen"):
        bench(town, 8, local(1, 17), hours=1.5)


def test_a_torch_that_somebody_has_is_refused_with_the_time_it_comes_free(town: Town) -> None:
    bench(town, 1, local(1, 12))

    with pytest.raises(NoStart, match="torch 1 is held by open bench time until Tue 4 Mar 14:05"):
        bench(town, 1, local(1, 13), person=town.other_student)


def test_a_torch_is_reserved_only_in_open_bench_time(town: Town) -> None:
    with pytest.raises(NoBenchTime, match="The next that is long enough begins Wed 5 Mar 2031, 10:00 CST"):
        bench(town, 1, local(1, 20))
    Closure.objects.create(
        studio=town.flame, first_day=local(2, 0).date(), last_day=local(2, 0).date(), reason="holiday"
    )
    with pytest.raises(NoBenchTime):
        bench(town, 1, local(2, 12))


@pytest.mark.parametrize("hours", [-1, 0, 0.2, 13])
def test_bench_time_has_a_sensible_length(town: Town, hours: float) -> None:
    with pytest.raises(InvalidInput, match="Bench time lasts from 15 minutes to 12 hours"):
        bench(town, 1, local(1, 12), hours=hours)


def test_nobody_works_alone_at_a_torch_without_a_sign_off(town: Town) -> None:
    town.student.qualifications.all().delete()

    with pytest.raises(NotQualified, match="Student is not signed off for torch at Flame"):
        bench(town, 1, local(1, 12))
    reserve_class_seat(actor=town.student, session=book(town, "beads", local(1, 18)))


def test_only_a_torch_is_reserved_as_a_torch(town: Town) -> None:
    with pytest.raises(InvalidInput, match="kiln is not a torch"):
        reserve_bench_torch(
            actor=town.student,
            torch=town.equipment["kiln"],
            starts_at=local(1, 12),
            ends_at=local(1, 14),
        )


def test_who_may_reserve_for_whom(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    with pytest.raises(NotAllowed):
        reserve_class_seat(actor=town.stranger, session=session)
    with pytest.raises(NotAllowed, match="needs the role instructor"):
        reserve_class_seat(actor=town.student, session=session, person=town.other_student)
    seat = reserve_class_seat(actor=town.instructor, session=session, person=town.student)
    assert seat.person == town.student


def test_a_seat_given_back_is_free_for_another(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)

    cancel_seat(actor=town.student, seat=seat)

    again = reserve_class_seat(actor=town.other_student, session=session)
    assert again.number == 1
    assert not PersonSpan.objects.filter(person=town.student).exists()
    with pytest.raises(Over, match="given back already"):
        cancel_seat(actor=town.student, seat=seat)


def test_a_torch_given_back_frees_its_oxygen(town: Town) -> None:
    seats = [
        bench(town, number, local(1, 12), person=another_student(town, number)) for number in range(1, 6)
    ]

    cancel_seat(actor=seats[0].person, seat=seats[0])

    bench(town, 6, local(1, 12))


def test_nobody_gives_back_the_seat_of_somebody_else(town: Town) -> None:
    seat = bench(town, 1, local(1, 12))

    with pytest.raises(NotAllowed):
        cancel_seat(actor=town.other_student, seat=seat)


def test_a_class_that_has_begun_takes_and_gives_no_seats(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)

    with time_machine.travel(local(1, 18, 1), tick=False):
        with pytest.raises(Over, match="has begun"):
            reserve_class_seat(actor=town.other_student, session=session)
        with pytest.raises(Over, match="has begun"):
            cancel_seat(actor=town.student, seat=seat)


def test_a_cancelled_class_frees_everything_and_tells_its_students(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)

    cancel_session(actor=town.instructor, session=session)

    seat.refresh_from_db()
    assert seat.status == "cancelled"
    assert not Occupancy.objects.exists()
    assert not PersonSpan.objects.exists()
    assert Message.objects.filter(person=town.student, subject="Called off: beads").count() == 1
    with pytest.raises(Over, match="is called off"):
        reserve_class_seat(actor=town.student, session=session)
    book(town, "beads", local(1, 18))
