"""Keeping seats, safety texts and earlier courses through the API."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine

from scheduling.models import Course, Seat
from studios.models import Acknowledgement, SafetyText
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town, local

NINE = local(0, 9)


@pytest.fixture(autouse=True)
def clock(db: None) -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def a_text(town: Town) -> SafetyText:
    return SafetyText.objects.create(studio=town.flame, version=2, body="Hair back.", since=local(0, 8))


def test_a_seat_is_kept_longer_once_and_booked(student: Api, instructor: Api) -> None:
    Course.objects.filter(slug="beads").update(price=Decimal(80))
    session = instructor.book("beads", "flame").json()

    kept = student.post("seats/keep/", session=session["uid"])
    uid = kept.json()["uid"]
    longer = student.post(f"seats/{uid}/keep-longer/").json()
    refused(student.post(f"seats/{uid}/keep-longer/"), 409, "kept-longer-once")
    booked = student.post(f"seats/{uid}/book/", note="left-handed").json()

    assert (kept.status_code, kept.json()["status"]) == (201, "kept")
    assert kept.json()["kept_until"] == "2031-03-03T15:10:00Z"
    assert longer["kept_until"] == "2031-03-03T15:20:00Z"
    assert (booked["status"], booked["kept_until"], booked["note"]) == ("booked", None, "left-handed")
    assert (booked["price"], booked["give_back_until"]) == ("80.00", "2031-03-04T00:00:00Z")
    assert session["give_back_until"] == booked["give_back_until"]


def test_past_its_time_a_kept_seat_is_refused_and_counts_no_longer(
    student: Api, instructor: Api, clock: time_machine.Traveller
) -> None:
    session = instructor.book("boro", "flame").json()["uid"]
    uid = student.post("seats/keep/", session=session).json()["uid"]
    before = instructor.get(f"sessions/{session}/").json()["seats_taken"]
    clock.move_to(NINE + dt.timedelta(minutes=10))

    refused(student.post(f"seats/{uid}/book/"), 409, "no-longer-kept")

    assert (before, instructor.get(f"sessions/{session}/").json()["seats_taken"]) == (1, 0)


def test_a_kept_torch_is_let_go(student: Api, town: Town, speak: Speak) -> None:
    times = {"starts_at": local(1, 12).isoformat(), "ends_at": local(1, 13).isoformat()}
    torch = {"torch": str(town.torches[0].uid), **times}
    uid = student.post("seats/keep/", **torch).json()["uid"]
    refused(speak(town.other_student).post("seats/keep/", **torch), 409, "no-start")

    assert student.post(f"seats/{uid}/let-go/").json()["status"] == "cancelled"
    assert speak(town.other_student).post("seats/keep/", **torch).status_code == 201


def test_the_refusal_carries_the_text_and_its_version_is_the_way_on(
    student: Api, instructor: Api, town: Town
) -> None:
    a_text(town)
    session = instructor.book("beads", "flame").json()["uid"]

    problem = refused(student.post("seats/", session=session), 409, "safety-unread", "acknowledged")
    refused(student.post("seats/", session=session, acknowledged=1), 409, "safety-unread")
    seat = student.post("seats/", session=session, acknowledged=2)

    assert problem["safety_text"] == {"studio": "flame", "version": 2, "body": "Hair back."}
    assert seat.status_code == 201
    assert Acknowledgement.objects.get().text.version == 2


@pytest.mark.parametrize("version", [True, "2", 0, 1.5, None])
def test_a_version_is_a_whole_number(student: Api, instructor: Api, version: Any) -> None:
    session = instructor.book("beads", "flame").json()["uid"]

    assert set(rules(student.post("seats/", session=session, acknowledged=version))) == {"acknowledged"}
    assert not Seat.objects.exists()


def test_a_text_is_read_before_anything_is_booked(student: Api, town: Town) -> None:
    a_text(town)

    texts = student.get("safety-texts/").json()
    read = student.post("acknowledgements/", studio="flame", version=2, on_day="2031-03-04")

    assert [(row["studio"], row["version"]) for row in texts["results"]] == [("flame", 2)]
    assert (read.status_code, read.json()["last_day"]) == (201, "2031-12-31")
    assert student.get("acknowledgements/").json()["results"] == [read.json()]
    assert student.bench(town.torches[0]).status_code == 201


def test_an_earlier_course_is_vouched_for_and_taken_back(student: Api, instructor: Api, town: Town) -> None:
    town.courses["boro"].requires.add(town.courses["beads"])
    session = instructor.book("boro", "flame").json()["uid"]
    sent = {"studio": "flame", "person": str(town.student.uid), "course": "beads"}
    problem = refused(student.post("seats/", session=session), 409, "earlier-course-needed", "session")

    assert instructor.post("earlier-courses/", **sent).status_code == 201
    assert [row["course"] for row in student.get("earlier-courses/").json()["results"]] == ["beads"]
    refused(student.post("earlier-courses/take-back/", **sent), 403, "not-allowed")
    assert student.post("seats/", session=session).status_code == 201
    assert instructor.post("earlier-courses/take-back/", **sent).status_code == 204

    assert "boro builds on beads" in problem["detail"]
    assert student.get("courses/boro/").json()["requires"] == ["beads"]


def test_after_the_deadline_a_seat_is_not_given_back_by_its_person(
    student: Api, instructor: Api, speak: Speak, town: Town, clock: time_machine.Traveller
) -> None:
    session = instructor.book("beads", "flame").json()["uid"]
    uid = student.post("seats/", session=session).json()["uid"]
    clock.move_to(local(0, 18, 1))

    refused(student.post(f"seats/{uid}/cancel/"), 409, "deadline-over")

    assert instructor.post(f"seats/{uid}/cancel/").json()["status"] == "cancelled"
