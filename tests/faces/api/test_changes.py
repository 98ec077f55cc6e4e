"""Moves, outages and what they break, over the API."""

from __future__ import annotations

from typing import Any

from scheduling.models import Outage
from scheduling.services.seats import reserve_class_seat
from tests.faces.api.conftest import Api, Speak, refused
from tests.services.test_booking import book
from tests.worlds import Town, local

OUT = {"starts_at": local(1, 15).isoformat(), "ends_at": local(1, 20).isoformat(), "reason": "repair"}


def out(technician: Api, town: Town, name: str) -> Any:
    return technician.post("outages/", equipment=str(town.equipment[name].uid), **OUT).json()


def test_a_move_is_looked_at_and_then_made(instructor: Api, town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    there = {"starts_at": local(2, 10).isoformat()}

    found = instructor.get(f"sessions/{session.uid}/move/", **there).json()
    moved = instructor.post(f"sessions/{session.uid}/move/", **there).json()

    assert (found["refused"], found["losing"]) == (None, [])
    assert found["option"]["starts_at"] == moved["starts_at"]
    assert (moved["uid"], moved["sequence"]) == (str(session.uid), 1)


def test_a_refused_move_says_why_and_what_is_nearest(instructor: Api, town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    there = {"starts_at": local(2, 22).isoformat()}

    found = instructor.get(f"sessions/{session.uid}/move/", **there).json()

    assert found["option"] is None
    assert "not-staffed" in {reason["code"] for reason in found["refused"]["reasons"]}
    assert any(each["change"] == "time" for each in found["refused"]["openings"])
    refused(instructor.post(f"sessions/{session.uid}/move/", **there), 409, "no-start", "starts_at")


def test_seats_that_would_be_lost_are_named(instructor: Api, town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    other = book(town, "beads", local(2, 18), town.other_instructor)
    reserve_class_seat(actor=town.student, session=other)

    found = instructor.get(f"sessions/{session.uid}/move/", starts_at=local(2, 18).isoformat()).json()

    [losing] = found["losing"]
    assert losing["seat"] == str(seat.uid)
    assert "Student already has beads at Flame" in losing["why"]


def test_a_move_sent_twice_is_made_once(instructor: Api, town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    sent = {"starts_at": local(2, 10).isoformat(), "headers": {"Idempotency-Key": "move-1"}}

    first = instructor.post(f"sessions/{session.uid}/move/", **sent)
    again = instructor.post(f"sessions/{session.uid}/move/", **sent)

    assert first.json() == again.json()
    assert again.json()["sequence"] == 1


def test_what_an_outage_breaks_is_listed_with_its_repair(technician: Api, town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    outage = out(technician, town, "hole 1")

    [found] = technician.get(f"outages/{outage['uid']}/broken/").json()["broken"]

    assert (found["what"], found["uid"], found["session"]) == ("session", *[str(session.uid)] * 2)
    assert found["repair"]["sentence"] == "At its own time, with hole 2, bench 2, warmer 2."
    assert {"hole 2", "bench 2"} <= {one["name"] for one in found["repair"]["equipment"]}


def test_an_outage_is_withdrawn_and_ends_after_its_start_only(technician: Api, town: Town) -> None:
    outage = out(technician, town, "hole 1")

    refused(technician.post(f"outages/{outage['uid']}/end/"), 400, "invalid-input", "ends_at")
    ended = technician.post(f"outages/{outage['uid']}/end/", ends_at=local(1, 16).isoformat()).json()
    gone = technician.delete(f"outages/{outage['uid']}/")

    assert ended["ends_at"] == "2031-03-04T22:00:00Z"
    assert gone.status_code == 204
    assert not Outage.objects.exists()


def test_what_it_breaks_is_for_who_enters_outages(technician: Api, town: Town, speak: Speak) -> None:
    outage = out(technician, town, "hole 1")

    refused(speak(town.instructor).get(f"outages/{outage['uid']}/broken/"), 403, "not-allowed")
    assert speak(town.stranger).get(f"outages/{outage['uid']}/broken/").status_code == 404
