"""Waiting lines, rosters and the paid mark through the API."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
import time_machine

from scheduling.models import Session
from scheduling.services.seats import reserve_class_seat
from tests.faces.api.conftest import Api, Speak, refused
from tests.services.test_line import NINE, full_class, give_back
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    """Monday at nine, until it is moved."""
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def test_a_line_is_joined_once_with_its_key_and_left(student: Api, town: Town) -> None:
    session = full_class(town)
    key = {"Idempotency-Key": "join-1"}

    first = student.post("waiting-places/", headers=key, session=str(session.uid))
    again = student.post("waiting-places/", headers=key, session=str(session.uid))
    place: dict[str, Any] = first.json()

    assert (first.status_code, again.json()) == (201, place)
    assert (place["status"], place["number"], place["offered_until"]) == ("waiting", 1, None)
    assert student.get(f"sessions/{session.uid}/").json()["waiting"] == 1
    assert student.get("waiting-places/").json()["results"] == [place]
    left = student.post(f"waiting-places/{place['uid']}/leave/").json()
    assert (left["status"], left["number"]) == ("left", None)
    assert student.get("waiting-places/").json()["results"] == []
    refused(student.post(f"waiting-places/{place['uid']}/leave/"), 409, "over")


def test_an_offer_is_taken_before_its_deadline(
    student: Api, town: Town, speak: Speak, clock: time_machine.Traveller
) -> None:
    session = full_class(town)
    other = speak(town.other_student)
    place = student.post("waiting-places/", session=str(session.uid)).json()
    late = other.post("waiting-places/", session=str(session.uid)).json()
    refused(student.post(f"waiting-places/{place['uid']}/take/"), 409, "over")
    give_back(session, number=1)
    give_back(session, number=2)

    offer = student.get(f"waiting-places/{place['uid']}/").json()
    taken = student.post(f"waiting-places/{place['uid']}/take/", note="left-handed").json()
    clock.move_to(local(1, 9))

    assert (offer["status"], offer["offered_until"]) == ("offered", "2031-03-04T03:00:00Z")
    assert taken["status"] == "taken"
    assert student.get(f"seats/{taken['seat']}/").json()["note"] == "left-handed"
    refused(other.post(f"waiting-places/{late['uid']}/take/"), 409, "no-longer-kept")


def test_there_is_no_line_where_a_seat_is_free(student: Api, instructor: Api) -> None:
    session = instructor.book("beads", "flame").json()

    refused(student.post("waiting-places/", session=session["uid"]), 409, "no-line", "session")


def test_nobody_sees_the_place_of_somebody_else(student: Api, town: Town, speak: Speak) -> None:
    session = full_class(town)
    place = student.post("waiting-places/", session=str(session.uid)).json()

    assert speak(town.other_student).get(f"waiting-places/{place['uid']}/").status_code == 404


def test_a_roster_has_the_line_behind_it(instructor: Api, technician: Api, student: Api, town: Town) -> None:
    session = full_class(town)
    student.post("waiting-places/", session=str(session.uid))

    roster = instructor.get(f"rosters/{session.uid}/").json()

    assert [line["person"]["name"] for line in roster["taken"]] == [f"Student {n}" for n in range(5)]
    assert roster["taken"][0]["email"] == "s0@town.example"
    (waiting,) = roster["waiting"]
    assert (waiting["number"], waiting["status"], waiting["offered_until"]) == (1, "waiting", None)
    assert technician.get(f"rosters/{session.uid}/").json()["taken"][0]["email"] == ""
    assert student.get(f"rosters/{session.uid}/").status_code == 404


def test_a_session_says_whether_too_few_people_come(
    student: Api, town: Town, clock: time_machine.Traveller
) -> None:
    town.courses["beads"].min_seats = 5
    town.courses["beads"].save()
    session = full_class(town)
    clock.move_to(local(2, 9))

    def said() -> tuple[int, bool]:
        shown = student.get(f"sessions/{session.uid}/").json()
        return shown["least_seats"], shown["below_least"]

    assert said() == (5, False)
    give_back(session)
    assert said() == (5, True)


def test_a_seat_is_marked_as_paid_and_listed_when_it_is_given_back(
    instructor: Api, student: Api, town: Town
) -> None:
    town.courses["beads"].price = Decimal(40)
    town.courses["beads"].save()
    uid = instructor.book("beads", "flame", day=4).json()["uid"]
    seat = reserve_class_seat(actor=town.student, session=Session.objects.get(uid=uid))

    marked = instructor.post(f"paid-seats/{seat.uid}/mark/").json()
    refused(instructor.post(f"paid-seats/{seat.uid}/mark/"), 409, "over")
    student.post(f"seats/{seat.uid}/cancel/")
    listed = instructor.get("paid-seats/").json()["results"]
    unmarked = instructor.post(f"paid-seats/{seat.uid}/unmark/").json()

    assert (marked["price"], marked["paid_noted_by"]["name"]) == ("40.00", "Instructor")
    assert [row["uid"] for row in listed] == [str(seat.uid)]
    assert unmarked["paid_at"] is None
    assert student.post(f"paid-seats/{seat.uid}/mark/").status_code == 404
    assert student.get("paid-seats/").status_code == 403
