"""Moving a class, and what equipment out of use breaks, on the pages and without JavaScript."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
import time_machine

from scheduling.models import Outage, Session
from scheduling.services.charges import book_charge
from scheduling.services.outages import enter_outage
from scheduling.services.seats import reserve_bench_torch
from studios.models import Person, Pot
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
TUESDAY = {"first_day": "2031-03-04", "last_day": "2031-03-04", "reason": "burner"}


def out(town: Town, name: str, begin: int, end: int) -> Outage:
    return enter_outage(
        actor=town.technician,
        equipment=town.equipment[name],
        starts_at=local(1, begin),
        ends_at=local(1, end),
        reason="burner",
    )


def test_a_class_is_moved_in_two_steps(town: Town, visit: Visits) -> None:
    session = a_class(town)
    instructor = visit(town.instructor)
    assert instructor.get(f"/sessions/{session.uid}").all("input", name="day", value="2031-03-04")

    page = instructor.get(f"/sessions/{session.uid}/move", day="2031-03-05", time="10:00")
    [start] = page.all("input", name="starts_at")
    assert "Wed 5 Mar, 10:00–13:00 works" in page.words
    done = instructor.post(f"/sessions/{session.uid}/move", starts_at=start["value"])

    assert "blowing is now at Wed 5 Mar 2031, 10:00 CST" in done.words
    assert Session.objects.get(uid=session.uid).starts_at == local(2, 10)


def test_whoever_teaches_it_goes_on_to_where_nobody_else_is_named(town: Town, visit: Visits) -> None:
    session = a_class(town)

    page = visit(town.manager).get(f"/sessions/{session.uid}/move", day="2031-03-05", time="10:00")

    [chosen] = [one for one in page.all("option") if "selected" in one]
    assert chosen["value"] == str(town.instructor.uid)


def test_a_time_that_does_not_work_says_why_and_leads_to_the_nearest(town: Town, visit: Visits) -> None:
    session = a_class(town)
    instructor = visit(town.instructor)

    page = instructor.get(f"/sessions/{session.uid}/move", day="2031-03-05", time="22:00")

    assert "Hot shop is not staffed for all of" in page.words
    [near, *_] = [link for link in page.all("a") if link.get("href", "").startswith("?day=")]
    found = instructor.get(f"/sessions/{session.uid}/move{near['href']}")
    assert "works" in found.words
    assert found.all("input", name="starts_at")


def test_who_would_lose_a_seat_is_said_before(town: Town, visit: Visits) -> None:
    session, other = a_class(town), a_class(town, "beads", local(2, 18))
    for each in (session, other):
        a_seat(each, town.student)
    manager = visit(town.manager)

    page = manager.get(
        f"/sessions/{session.uid}/move", day="2031-03-05", time="18:00", instructor=town.other_instructor.uid
    )

    assert "1 seat would be lost: Student already has beads at Flame" in page.words


def test_a_refused_move_is_said_and_nothing_is_changed(town: Town, visit: Visits) -> None:
    session = a_class(town)

    page = visit(town.instructor).post(f"/sessions/{session.uid}/move", starts_at=local(2, 22).isoformat())

    assert "is not staffed" in page.words
    assert Session.objects.get(uid=session.uid).starts_at == local(1, 18)


@pytest.mark.parametrize("who", ["student", "other_instructor", "technician"])
def test_a_class_is_moved_by_who_may(town: Town, visit: Visits, who: str) -> None:
    session = a_class(town)
    visitor = visit(town.people[who])

    assert not visitor.get(f"/sessions/{session.uid}").all("input", name="day")
    visitor.get(f"/sessions/{session.uid}/move")
    assert visitor.status == 403


def test_a_technician_enters_an_outage_and_sees_what_it_breaks(town: Town, visit: Visits) -> None:
    a_class(town)
    technician, hole = visit(town.technician), town.equipment["hole 1"]
    assert technician.get(f"/equipment/{hole.uid}").all("a", href=f"/equipment/{hole.uid}/outage")

    page = technician.post(f"/equipment/{hole.uid}/outage", **TUESDAY, first_time="15:00", last_time="20:00")

    assert technician.last == f"/outages/{Outage.objects.get().uid}"
    assert "Nearest repair: At its own time, with hole 2, bench 2, warmer 2." in page.words
    assert "Instructor, who teaches it, or the manager moves it." in page.words


def test_one_click_repairs_it(town: Town, visit: Visits) -> None:
    session, outage = a_class(town), out(town, "hole 1", 15, 20)
    manager = visit(town.manager)
    page = manager.get(f"/outages/{outage.uid}")
    sent: dict[str, Any] = {
        name: page.all("input", name=name)[0]["value"] for name in ("session", "starts_at")
    }

    done = manager.post(f"/outages/{outage.uid}/repair", **sent)

    assert "blowing is repaired: Tue 4 Mar 2031, 18:00 CST." in done.words
    assert "It breaks nothing that is booked" in done.words
    assert session.booking.occupancies.filter(equipment=town.equipment["hole 2"]).exists()


def test_one_click_moves_bench_time_and_charges(town: Town, visit: Visits) -> None:
    """Whoever takes equipment out of use mends that, too."""
    technician = visit(town.technician)
    pot = Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    seat = reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(1, 12), ends_at=local(1, 14)
    )
    book_charge(actor=town.technician, furnace=pot.furnace, starts_at=local(1, 8))
    said = []

    for name, kind in (("torch 1", "seat"), ("furnace", "charge")):
        outage = out(town, name, 11, 13)
        page = technician.get(f"/outages/{outage.uid}")
        sent: dict[str, Any] = {
            each: page.all("input", name=each)[0]["value"] for each in (kind, "starts_at")
        }
        said.append(technician.post(f"/outages/{outage.uid}/repair", **sent).words)

    seat.refresh_from_db()
    assert seat.torch == town.torches[1]
    assert "Bench time of Student, with torch 2, is repaired: Tue 4 Mar 2031, 12:00 CST." in said[0]
    assert "Charge of furnace is repaired: " in said[1]
    assert all("It breaks nothing that is booked" in words for words in said)


def test_hours_that_are_none_are_said_beside_the_field(town: Town, visit: Visits) -> None:
    technician, hole = visit(town.technician), town.equipment["hole 1"]

    page = technician.post(f"/equipment/{hole.uid}/outage", **TUESDAY, first_time="15:00", last_time="14:00")

    assert technician.status == 409
    assert "An outage ends after it starts." in page.words
    assert not Outage.objects.exists()


def test_an_outage_is_ended_and_withdrawn(town: Town, visit: Visits) -> None:
    outage = out(town, "hole 1", 10, 20)
    with time_machine.travel(local(1, 12), tick=False):
        technician = visit(town.technician)
        page = technician.get(f"/outages/{outage.uid}")
        assert page.all("input", name="time", value="12:00")

        ended = technician.post(f"/outages/{outage.uid}/end", day="2031-03-04", time="13:00")
        refused = technician.post(f"/outages/{outage.uid}/end", day="2031-03-04", time="19:00")
        gone = technician.post(f"/outages/{outage.uid}/withdraw")

    assert "hole 1 is in use again from Tue 4 Mar 2031, 13:00 CST." in ended.words
    assert "It ends then or sooner already" in refused.words
    assert "The outage of hole 1 is withdrawn." in gone.words
    assert not Outage.objects.exists()


def test_a_repair_of_nothing_known_is_not_found(town: Town, visit: Visits) -> None:
    outage, manager = out(town, "hole 1", 10, 20), visit(town.manager)

    for session in ("nonsense", str(outage.uid)):
        manager.post(f"/outages/{outage.uid}/repair", session=session, starts_at=local(1, 9).isoformat())
        assert manager.status == 404
