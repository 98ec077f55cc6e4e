"""Booking and cancelling through the API."""

from __future__ import annotations

import pytest
import time_machine

from scheduling.models import Booking, BookingStatus, Occupancy, Session
from studios.models import Person, Qualification
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town, local


def test_an_instructor_books_a_class_with_its_night(instructor: Api) -> None:
    response = instructor.book()

    assert response.status_code == 201
    session = response.json()
    assert session == instructor.get(f"sessions/{session['uid']}/").json()
    assert (session["course"], session["studio"], session["status"]) == ("blowing", "hot-shop", "booked")
    assert session["instructor"]["name"] == "Instructor"
    assert session["starts_at"] == "2031-03-05T00:00:00Z"


def test_who_assists_stands_in_the_session_and_finds_it_among_their_own(
    instructor: Api, town: Town, speak: Speak
) -> None:
    town.courses["blowing"].assistants = 1
    town.courses["blowing"].save()

    session = instructor.book().json()

    assert [person["name"] for person in session["assistants"]] == ["Other_Instructor"]
    own = speak(town.other_instructor).get("sessions/", mine="true").json()["results"]
    assert [line["uid"] for line in own] == [session["uid"]]
    assert speak(town.student).get("sessions/", mine="true").json()["results"] == []
    assert instructor.get("courses/blowing/").json()["assistants"] == 1


def test_a_manager_books_for_an_instructor(town: Town, speak: Speak) -> None:
    response = speak(town.manager).book(instructor=str(town.instructor.uid))

    assert response.json()["instructor"]["uid"] == str(town.instructor.uid)


@pytest.mark.parametrize("who", ["student", "technician"])
def test_who_does_not_teach_books_nothing(town: Town, speak: Speak, who: str) -> None:
    refused(speak(getattr(town, who)).book(), 403, "not-allowed", "instructor")
    assert not Booking.objects.exists()


def test_an_instructor_does_not_book_for_another(instructor: Api, town: Town) -> None:
    refused(instructor.book(instructor=str(town.other_instructor.uid)), 403, "not-allowed", "instructor")


def test_an_instructor_books_only_what_the_studio_signed_them_off_for(instructor: Api, town: Town) -> None:
    Qualification.objects.filter(person=town.instructor, kind="furnace").delete()

    problem = refused(instructor.book(), 403, "not-qualified", "instructor")

    assert "furnace" in problem["detail"]


def test_a_course_is_held_where_it_is_taught(instructor: Api) -> None:
    refused(instructor.book("beads", "hot-shop"), 400, "invalid-input", "course")


def test_somebody_unknown_teaches_nothing(instructor: Api, town: Town) -> None:
    stranger = Person.objects.create_user("far.away@town.example", "glass", name="Far Away")

    assert rules(instructor.book(instructor=str(stranger.uid))) == {"instructor": "does-not-exist"}
    assert rules(instructor.book(instructor="me")) == {"instructor": "invalid"}


def test_an_annealer_that_is_taken_refuses_with_a_temperature(
    town: Town, instructor: Api, speak: Speak
) -> None:
    instructor.book("beads", "flame")

    problem = refused(speak(town.other_instructor).book("boro", "flame"), 409, "no-start", "starts_at")

    assert "°C" in problem["detail"]
    assert problem["reasons"][0]["until"]


def test_the_second_class_joins_the_first_ones_firing(town: Town, instructor: Api, speak: Speak) -> None:
    first = instructor.book().json()

    second = speak(town.other_instructor).book().json()

    assert [firing["uid"] for firing in second["firings"]] == [firing["uid"] for firing in first["firings"]]


def test_a_class_in_the_past_is_refused(town: Town, speak: Speak) -> None:
    with time_machine.travel(local(3, 9), tick=False):
        refused(speak(town.instructor).book(), 409, "no-start", "starts_at")


def test_a_cancelled_class_holds_nothing(instructor: Api) -> None:
    uid = instructor.book().json()["uid"]

    response = instructor.post(f"sessions/{uid}/cancel/")

    assert response.status_code == 200
    assert (response.json()["status"], response.json()["held"], response.json()["firings"]) == (
        "cancelled",
        [],
        [],
    )
    assert not Occupancy.objects.exists()
    assert [row["uid"] for row in instructor.get("sessions/", status="cancelled").json()["results"]] == [uid]


def test_a_class_is_cancelled_once(instructor: Api) -> None:
    uid = instructor.book().json()["uid"]
    instructor.post(f"sessions/{uid}/cancel/")

    refused(instructor.post(f"sessions/{uid}/cancel/"), 409, "over")


@pytest.mark.parametrize(
    ("who", "status"),
    [("student", 403), ("other_instructor", 403), ("technician", 403), ("stranger", 404), ("manager", 200)],
)
def test_who_may_cancel_a_class(town: Town, instructor: Api, speak: Speak, who: str, status: int) -> None:
    uid = instructor.book().json()["uid"]

    response = speak(getattr(town, who)).post(f"sessions/{uid}/cancel/")

    assert response.status_code == status
    assert (Session.objects.get().status == BookingStatus.BOOKED) == (status != 200)


def test_students_do_not_read_one_anothers_names(
    town: Town, instructor: Api, student: Api, speak: Speak
) -> None:
    path = f"sessions/{instructor.book('beads', 'flame').json()['uid']}/"
    student.post("seats/", session=path.split("/")[1])

    def seen(api: Api) -> list[str | None]:
        return [seat["person"] and seat["person"]["name"] for seat in api.get(path).json()["taken"]]

    assert seen(instructor) == seen(speak(town.technician)) == seen(speak(town.manager)) == ["Student"]
    assert seen(student) == ["Student"]
    assert seen(speak(town.other_student)) == [None]
    assert str(town.student.uid) not in speak(town.other_student).get(path).content.decode()
