"""A session's page: what it holds, its seats, calling it off."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import BookingStatus, Occupancy, Seat
from studios.models import Person
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_it_says_when_by_the_studios_clock_and_what_it_holds(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")

    page = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Tuesday 4 March 2031, 18:00 to 21:00 America/Chicago" in page.words
    # Five torches alike are one line.
    assert "torch 1, torch 2, torch 3, torch 4, torch 5 Tue 4 Mar, 17:55 Tue 4 Mar, 21:05" in page.words
    assert "purge 17:55–18:00" in page.words


def test_a_student_takes_a_seat_with_a_torch_and_gives_it_back(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    visitor = visit(town.student)

    taken = visitor.post(f"/sessions/{session.uid}/seat", torch=town.torches[3].uid)
    seat = Seat.objects.get()
    mine = visitor.get("/my-seats")
    visitor.post(f"/my-seats/{seat.uid}/give-back")

    assert "You have seat 1, torch 4." in taken.words
    assert "torch 4" in mine.words
    seat.refresh_from_db()
    assert seat.status == BookingStatus.CANCELLED


def test_a_torch_taken_meanwhile_is_refused_beside_the_field(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.other_student)
    visitor = visit(town.student)

    page = visitor.post(f"/sessions/{session.uid}/seat", torch=town.torches[0].uid)

    assert visitor.status == 409
    assert page.all("div", class_="error", id="id_torch_error")
    assert Seat.objects.count() == 1


def test_the_last_seat_is_gone_for_the_next_one(town: Town, visit: Visits) -> None:
    session = a_class(town, "boro")
    a_seat(session, town.other_student)
    visitor = visit(town.student)

    page = visitor.post(f"/sessions/{session.uid}/seat")

    assert "0 of 1 free" in page.words
    assert visitor.status == 409


def test_staff_see_who_comes_and_students_do_not(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.other_student)

    to_staff = visit(town.technician).get(f"/sessions/{session.uid}")
    to_student = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Other_Student" in to_staff.words
    assert "Other_Student" not in to_student.words
    assert "5 of 6 free" in to_student.words


def test_an_instructor_seats_a_student_and_a_student_nobody_else(town: Town, visit: Visits) -> None:
    session = a_class(town)

    page = visit(town.instructor).post(f"/sessions/{session.uid}/seat", person=town.student.uid)
    visit(town.other_student).post(f"/sessions/{session.uid}/seat", person=town.manager.uid)

    assert "is taken for Student" in page.words
    # The student's choice of a person is not on the form, so the seat is the student's own.
    assert {seat.person for seat in Seat.objects.all()} == {town.student, town.other_student}


def test_who_teaches_a_class_is_not_offered_a_seat_in_it(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/seat")

    assert "Choose a person" in page.words
    assert "This field is required." in page.words
    assert not Seat.objects.exists()


def test_calling_it_off_frees_everything_and_keeps_the_page(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/call-off")

    assert "blowing is called off; what it held is free again." in page.words
    assert not Occupancy.objects.exists()
    assert "It holds nothing any more." in page.words


@pytest.mark.parametrize("who", ["student", "other_instructor", "technician"])
def test_others_cannot_call_it_off(town: Town, visit: Visits, who: str) -> None:
    session = a_class(town)
    visitor = visit(getattr(town, who))

    page = visitor.get(f"/sessions/{session.uid}")
    visitor.post(f"/sessions/{session.uid}/call-off")

    session.refresh_from_db()
    assert session.status == BookingStatus.BOOKED
    assert not page.all("form", action=f"/sessions/{session.uid}/call-off")


def test_what_has_begun_is_closed(town: Town, visit: Visits) -> None:
    session = a_class(town)

    with time_machine.travel(local(1, 19), tick=False):
        page = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Take a seat" not in page.words


def test_a_stranger_finds_no_session_and_takes_no_seat(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.stranger)

    for act in (
        lambda: visitor.get(f"/sessions/{session.uid}"),
        lambda: visitor.post(f"/sessions/{session.uid}/seat"),
        lambda: visitor.post(f"/sessions/{session.uid}/call-off"),
    ):
        page = act()
        assert visitor.status == 404
        assert "Nothing stands at this address" in page.words


def test_somebody_elses_seat_is_not_given_back(town: Town, visit: Visits) -> None:
    seat = a_seat(a_class(town), town.student)

    visit(town.other_student).post(f"/my-seats/{seat.uid}/give-back")

    seat.refresh_from_db()
    assert seat.status == BookingStatus.BOOKED


def test_my_seats_list_what_is_open_and_what_one_teaches(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.student)

    teaching = visit(town.instructor).get("/my-seats")
    open_to_others = visit(town.other_student).get("/my-seats")
    to_seated = visit(town.student).get("/my-seats")

    assert "1 of 6 seats taken" in teaching.words
    assert "5 of 6 seats free" in open_to_others.words
    assert "No class has a free seat just now." in to_seated.words
