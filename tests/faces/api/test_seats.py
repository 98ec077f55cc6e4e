"""Reserving and giving back seats through the API."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from scheduling.models import Seat
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town, local


def test_a_student_takes_a_seat_in_a_class_with_its_torch(student: Api, instructor: Api) -> None:
    session = instructor.book("beads", "flame").json()

    response = student.post("seats/", session=session["uid"])

    assert response.status_code == 201
    seat = response.json()
    assert (seat["session"], seat["name"], seat["number"]) == (session["uid"], "beads", 1)
    assert seat["torch"]["kind"] == "torch"
    assert (seat["starts_at"], seat["ends_at"]) == (session["starts_at"], session["ends_at"])
    assert student.get(f"seats/{seat['uid']}/").json() == seat
    assert instructor.get(f"sessions/{session['uid']}/").json()["seats_taken"] == 1


def test_a_student_chooses_the_torch(student: Api, instructor: Api, town: Town) -> None:
    session = instructor.book("beads", "flame").json()
    torches = [row["equipment"] for row in session["held"] if row["equipment"]["kind"] == "torch"]

    seat = student.post("seats/", session=session["uid"], torch=torches[2]["uid"]).json()

    assert seat["torch"] == torches[2]


def test_a_torch_that_is_taken_is_refused(student: Api, instructor: Api, town: Town, speak: Speak) -> None:
    session = instructor.book("beads", "flame").json()
    torch = student.post("seats/", session=session["uid"]).json()["torch"]["uid"]

    response = speak(town.other_student).post("seats/", session=session["uid"], torch=torch)

    refused(response, 409, "seat-taken", "torch")


def test_the_last_seat_goes_to_one(student: Api, instructor: Api, town: Town, speak: Speak) -> None:
    session = instructor.book("boro", "flame").json()
    student.post("seats/", session=session["uid"])

    refused(speak(town.other_student).post("seats/", session=session["uid"]), 409, "no-seat-left", "session")


def test_a_student_sits_at_one_place_at_a_time(student: Api, town: Town) -> None:
    student.bench(town.torches[0])

    refused(student.bench(town.torches[1]), 409, "person-busy", "person")


def test_a_torch_in_open_bench_time(student: Api, town: Town) -> None:
    response = student.bench(town.torches[3])

    assert response.status_code == 201
    seat = response.json()
    assert (seat["session"], seat["name"], seat["torch"]["name"]) == (None, None, "torch 4")
    assert [row["uid"] for row in student.get("seats/", studio="flame").json()["results"]] == [seat["uid"]]


def test_a_refusal_does_not_say_whose_torch_it_is(student: Api, town: Town, speak: Speak) -> None:
    student.bench(town.torches[0])

    problem = refused(speak(town.other_student).bench(town.torches[0]), 409, "no-start", "starts_at")

    assert "Student" not in str(problem)
    assert str(town.student.uid) not in str(problem)


def test_bench_time_is_when_the_studio_has_it(student: Api, town: Town) -> None:
    refused(student.bench(town.torches[0], hour=8), 409, "no-bench-time", "starts_at")


def test_oxygen_for_five_torches_lights_five(town: Town, instructor: Api, student: Api) -> None:
    instructor.book("beads", "flame")

    problem = refused(student.bench(town.torches[7], hour=19), 409, "no-start", "starts_at")

    assert "oxygen" in problem["detail"]


@pytest.mark.parametrize(
    ("body", "at_fault"),
    [
        ({}, {"torch": "required", "starts_at": "required", "ends_at": "required"}),
        ({"session": True, "starts_at": "2031-03-04T18:00Z"}, {"starts_at": "not-with-session"}),
        ({"torch": True, "starts_at": "2031-03-04T18:00Z"}, {"ends_at": "required"}),
        (
            {"torch": True, "starts_at": "2031-03-04T18:00Z", "ends_at": "2031-03-04T18:00Z"},
            {"ends_at": "end-after-start"},
        ),
        ({"session": False}, {"session": "does-not-exist"}),
        ({"session": True, "person": False}, {"person": "does-not-exist"}),
    ],
)
def test_a_seat_is_in_a_session_or_at_a_torch_with_times(
    student: Api, instructor: Api, town: Town, body: dict[str, Any], at_fault: dict[str, str]
) -> None:
    real = {"session": instructor.book("beads", "flame").json()["uid"], "torch": str(town.torches[0].uid)}
    unknown = "00000000-0000-4000-8000-000000000000"
    sent = {name: {True: real.get(name), False: unknown}.get(value, value) for name, value in body.items()}

    assert rules(student.post("seats/", **sent)) == at_fault
    assert not Seat.objects.exists()


def test_a_kiln_is_no_seat(student: Api, town: Town) -> None:
    assert rules(student.bench(town.equipment["kiln"])) == {"torch": "does-not-exist"}


def test_an_instructor_reserves_for_a_student(instructor: Api, town: Town) -> None:
    uid = instructor.book("beads", "flame").json()["uid"]

    seat = instructor.post("seats/", session=uid, person=str(town.student.uid)).json()

    assert seat["person"]["name"] == "Student"


def test_a_student_reserves_for_nobody_else(student: Api, town: Town) -> None:
    refused(student.bench(town.torches[0], person=str(town.other_student.uid)), 403, "not-allowed", "person")


def test_a_seat_is_given_back_once(student: Api, town: Town) -> None:
    uid = student.bench(town.torches[0]).json()["uid"]

    response = student.post(f"seats/{uid}/cancel/")

    assert (response.status_code, response.json()["status"]) == (200, "cancelled")
    refused(student.post(f"seats/{uid}/cancel/"), 409, "over")
    assert student.bench(town.torches[0]).status_code == 201
    assert len(student.get("seats/", status="booked").json()["results"]) == 1


def test_a_seat_that_has_begun_is_kept(student: Api, town: Town, speak: Speak) -> None:
    uid = student.bench(town.torches[0]).json()["uid"]

    with time_machine.travel(local(1, 12, 30), tick=False):
        refused(speak(town.student).post(f"seats/{uid}/cancel/"), 409, "over")


@pytest.mark.parametrize(
    ("who", "status"),
    [("other_student", 404), ("technician", 404), ("stranger", 404), ("instructor", 200), ("manager", 200)],
)
def test_who_may_give_a_students_seat_back(
    town: Town, student: Api, speak: Speak, who: str, status: int
) -> None:
    uid = student.bench(town.torches[0]).json()["uid"]
    api = speak(getattr(town, who))

    assert api.get(f"seats/{uid}/").status_code == status
    assert api.post(f"seats/{uid}/cancel/").status_code == status
    assert (Seat.objects.get().status == "booked") == (status != 200)


def test_nobody_lists_another_persons_seats(student: Api, instructor: Api, town: Town) -> None:
    student.bench(town.torches[0])

    assert instructor.get("seats/").json()["results"] == []
