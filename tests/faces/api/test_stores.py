"""Refills of supplies and charges of furnaces through the API."""

from __future__ import annotations

import pytest
import time_machine

from scheduling.models import Charge, Refill
from studios.models import Pot, Supply
from tests.faces.api.conftest import Api, Speak, refused
from tests.worlds import Town, local


@pytest.fixture
def oxygen(town: Town) -> Supply:
    """Oxygen in cylinders that are changed over."""
    supply = town.supplies["oxygen"]
    supply.content, supply.change_over = 5550, True
    supply.save()
    return supply


@pytest.fixture
def furnace(town: Town) -> str:
    """The uid of a furnace with a pot."""
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    town.courses["blowing"].glass_kg_per_seat = 3.5
    town.courses["blowing"].save()
    return str(town.equipment["furnace"].uid)


def test_a_delivery_is_recorded_and_a_class_brings_a_change_over_that_is_then_done(
    technician: Api, instructor: Api, oxygen: Supply
) -> None:
    made = technician.post("refills/", supply=str(oxygen.uid), at=local(0, 8).isoformat())
    assert made.status_code == 201
    assert (made.json()["content_after"], made.json()["unit"], made.json()["booking"]) == (5550, "L", None)
    assert instructor.book("beads", "flame", day=1).status_code == 201
    booked = instructor.book("beads", "flame", day=2).json()

    due = technician.get("refills/", supply=str(oxygen.uid)).json()["results"][1]

    assert due["status"] == "planned"
    assert due["at"] == "2031-03-05T23:55:00Z"
    assert due["booking"] is not None
    again = technician.post(
        "refills/", supply=str(oxygen.uid), at=local(2, 16).isoformat(), planned=due["uid"]
    ).json()
    assert (again["uid"], again["at"]) == (due["uid"], "2031-03-05T22:00:00Z")
    assert technician.post(f"sessions/{booked['uid']}/cancel/").status_code == 403
    assert Refill.objects.count() == 2


def test_what_would_run_it_dry_is_refused_with_the_reason(
    technician: Api, instructor: Api, oxygen: Supply
) -> None:
    technician.post("refills/", supply=str(oxygen.uid), at=local(0, 8).isoformat(), content_after=100.5)
    Supply.objects.update(change_over=False)

    problem = refused(instructor.book("beads", "flame"), 409, "no-start", "starts_at")

    assert [reason["code"] for reason in problem["reasons"]] == ["store-empty"]
    assert "oxygen has 100.5 L left for this" in problem["detail"]


def test_a_charge_is_proposed_booked_seen_and_called_off(
    technician: Api, instructor: Api, furnace: str
) -> None:
    found = technician.get("charge-proposals/", furnace=furnace, ends_by=local(4, 9).isoformat()).json()
    assert (found["level_kg"], found["floor_kg"], found["reasons"]) == (None, 40, [])
    assert found["starts_at"] < found["ends_at"]

    made = technician.post("charges/", furnace=furnace, starts_at=local(1, 8).isoformat())

    assert made.status_code == 201
    assert (made.json()["ends_at"], made.json()["level_after_kg"]) == ("2031-03-05T14:00:00Z", 100)
    held = instructor.get(
        "occupancies/", studio="hot-shop", from_=local(1, 0).isoformat(), to=local(2, 0).isoformat()
    ).json()["results"]
    assert [(row["place"], row["charge"]) for row in held] == [(n, made.json()["uid"]) for n in (1, 2, 3)]
    refused(instructor.book("blowing", day=1), 409, "no-start", "starts_at")
    over = technician.post(f"charges/{made.json()['uid']}/cancel/")
    assert over.json()["status"] == "cancelled"
    assert technician.get("charges/", status="booked").json()["count"] == 0
    assert instructor.book("blowing", day=1).status_code == 201


def test_a_class_below_the_floor_is_told_when_a_charge_fits(
    technician: Api, instructor: Api, furnace: str
) -> None:
    technician.post("charges/", furnace=furnace, starts_at=local(0, 8).isoformat(), level_after_kg=50)

    problem = refused(instructor.book("blowing", day=3), 409, "no-start", "starts_at")

    assert (
        "the pot would hold 29 kg, its floor is 40 kg; a charge fits from Tue 4 Mar 08:00"
        in problem["detail"]
    )


def test_equipment_and_supplies_show_what_they_hold(instructor: Api, furnace: str, oxygen: Supply) -> None:
    shown = instructor.get(f"equipment/{furnace}/").json()
    assert (shown["pot"]["capacity_kg"], shown["pot"]["fining_min"]) == (100, 720)
    supply = instructor.get("supplies/", studio="flame").json()["results"][1]
    assert (supply["content"], supply["content_unit"], supply["change_over"]) == (5550, "L", True)


@pytest.mark.parametrize(
    ("who", "status"), [("student", 403), ("instructor", 403), ("stranger", 400), ("manager", 201)]
)
def test_who_may_charge_and_record_refills(
    speak: Speak, town: Town, furnace: str, oxygen: Supply, who: str, status: int
) -> None:
    api = speak(getattr(town, who))

    charged = api.post("charges/", furnace=furnace, starts_at=local(1, 8).isoformat())
    refilled = api.post("refills/", supply=str(oxygen.uid), at=local(1, 8).isoformat())

    assert (charged.status_code, refilled.status_code) == (status, status)
    assert Charge.objects.exists() == Refill.objects.exists() == (status == 201)


def test_a_furnace_without_a_pot_cannot_be_charged(technician: Api, town: Town) -> None:
    furnace = str(town.equipment["furnace"].uid)

    refused(technician.get("charge-proposals/", furnace=furnace), 409, "no-pot", "furnace")
    refused(technician.post("charges/", furnace=furnace, starts_at=local(1, 8).isoformat()), 409, "no-pot")


def test_a_delivery_that_does_not_come_is_struck_and_what_runs_dry_is_shown(
    technician: Api, instructor: Api, oxygen: Supply
) -> None:
    technician.post("refills/", supply=str(oxygen.uid), at=local(0, 8).isoformat())
    delivery = technician.post("refills/", supply=str(oxygen.uid), at=local(2, 8).isoformat()).json()["uid"]
    instructor.book("beads", "flame", day=1)
    assert instructor.book("beads", "flame", day=3).status_code == 201

    struck = technician.post(f"refills/{delivery}/strike/")

    assert struck.json() == {
        "runs_dry": [
            {"what": "beads", "starts_at": "2031-03-07T00:00:00Z", "ends_at": "2031-03-07T03:00:00Z"}
        ]
    }
    refused(technician.post(f"refills/{delivery}/strike/"), 404, "not-found")
    refused(instructor.post(f"refills/{Refill.objects.get().uid}/strike/"), 403, "not-allowed")


def test_a_level_of_glass_is_entered_as_measured(
    technician: Api, instructor: Api, speak: Speak, town: Town, furnace: str
) -> None:
    technician.post("charges/", furnace=furnace, starts_at=local(0, 8).isoformat())
    instructor.book("blowing", day=2)
    refused(
        technician.post("pot-levels/", furnace=furnace, at=local(1, 9).isoformat(), level_kg=50),
        400,
        "invalid-input",
        "at",
    )

    with time_machine.travel(local(1, 9), tick=False):
        made = speak(town.technician).post(
            "pot-levels/", furnace=furnace, at=local(1, 9).isoformat(), level_kg=50
        )

    assert made.status_code == 201
    assert (made.json()["at"], made.json()["level_kg"]) == ("2031-03-04T15:00:00Z", 50)
    assert [dry["what"] for dry in made.json()["runs_dry"]] == ["blowing"]
    (shown,) = instructor.get("pot-levels/", furnace=furnace).json()["results"]
    assert (shown["at"], shown["level_kg"]) == ("2031-03-04T15:00:00Z", 50)
    assert technician.get("charges/").json()["count"] == 1
    refused(
        instructor.post("pot-levels/", furnace=furnace, at=local(0, 9).isoformat(), level_kg=50),
        403,
        "not-allowed",
    )
