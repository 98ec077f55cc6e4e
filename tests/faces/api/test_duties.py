"""Outages, calendar links and the search for a start through the API."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine
from django.test import Client

from scheduling.models import FeedKey, Occupancy, Outage
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town, local


def outage(api: Api, equipment: Any, **more: Any) -> Any:
    times = {"starts_at": local(1, 9).isoformat(), "ends_at": local(2, 9).isoformat()}
    return api.post("outages/", **{"equipment": str(equipment.uid), "reason": "new element", **times, **more})


def test_a_technician_enters_an_outage(technician: Api, town: Town) -> None:
    response = outage(technician, town.equipment["annealer 1"])

    assert response.status_code == 201
    assert response.json()["equipment"]["name"] == "annealer 1"
    assert technician.get("outages/", studio="hot-shop").json()["results"] == [response.json()]
    assert technician.get("outages/", equipment=str(town.equipment["kiln"].uid)).json()["count"] == 0
    assert technician.get("outages/", from_=local(2, 9).isoformat()).json()["count"] == 0


def test_nothing_new_is_booked_on_what_is_out_of_use(technician: Api, instructor: Api, town: Town) -> None:
    for number in (1, 2):
        outage(technician, town.equipment[f"annealer {number}"])

    problem = refused(instructor.book(), 409, "no-start", "starts_at")

    assert "new element" in problem["detail"]


@pytest.mark.parametrize(
    ("who", "status"), [("student", 403), ("instructor", 403), ("stranger", 400), ("manager", 201)]
)
def test_who_may_enter_an_outage(town: Town, speak: Speak, who: str, status: int) -> None:
    response = outage(speak(getattr(town, who)), town.equipment["kiln"])

    assert response.status_code == status
    assert Outage.objects.exists() == (status == 201)


def test_an_outage_ends_after_it_starts_and_has_a_reason(technician: Api, town: Town) -> None:
    kiln = town.equipment["kiln"]

    assert rules(outage(technician, kiln, ends_at=local(1, 9).isoformat())) == {"ends_at": "end-after-start"}
    assert rules(outage(technician, kiln, reason="  ")) == {"reason": "invalid-input"}
    assert rules(outage(technician, kiln, reason="x" * 121)) == {"reason": "max-length"}
    assert not Outage.objects.exists()


def test_a_calendar_link_is_made_read_and_withdrawn(instructor: Api) -> None:
    instructor.book()
    made = instructor.post("feed-keys/", label="my phone").json()

    assert instructor.get("feed-keys/").json()["results"] == [made]
    with time_machine.travel(local(0, 9), tick=False):
        feed = Client().get(made["link"])
    assert feed.status_code == 200
    assert b"SUMMARY:blowing" in feed.content

    assert instructor.delete(f"feed-keys/{made['uid']}/").status_code == 204
    assert instructor.get("feed-keys/").json()["results"] == []
    assert Client().get(made["link"]).status_code in {404, 410}


def test_a_link_is_about_what_it_says_and_shows_what_was_chosen(technician: Api, town: Town) -> None:
    kiln = town.equipment["kiln"]
    own = technician.post("feed-keys/", label="me").json()
    one = technician.post("feed-keys/", label="kiln", about="equipment", equipment=str(kiln.uid)).json()
    bell = technician.post(
        "feed-keys/", label="bell", about="duties", studio="flame", shows=["duty"], alarm_min=None
    ).json()
    door = technician.post("feed-keys/", label="door", about="studio", studio="flame", shows=["class"]).json()

    assert (own["about"], own["studio"], own["equipment"], own["alarm_min"]) == ("person", None, None, 30)
    assert (one["about"], one["equipment"]["name"]) == ("equipment", "kiln")
    assert (bell["about"], bell["studio"], bell["shows"], bell["alarm_min"]) == ("duties", "flame", [], None)
    assert (door["studio"], door["shows"]) == ("flame", ["class"])
    for made in (own, one, bell, door):
        links = [made[name] for name in ("link", "json_link", "free_busy_link")]
        assert [Client().get(link).status_code for link in links] == [200, 200, 200]


def test_what_a_link_is_about_is_checked(student: Api, town: Town) -> None:
    def sent(**facts: Any) -> Any:
        return student.post("feed-keys/", label="x", **facts)

    assert rules(sent(about="moon")) == {"about": "invalid-choice"}
    assert rules(sent(about="studio")) == {"studio": "invalid-input"}
    assert rules(sent(about="studio", studio="nowhere")) == {"studio": "does-not-exist"}
    assert rules(sent(about="equipment", equipment="7")) == {"equipment": "invalid"}
    assert rules(sent(shows=["charge"])) == {"shows": "invalid-input"}
    assert rules(sent(about="studio", studio="flame", shows=["duty"])) == {"shows": "invalid-input"}
    assert rules(sent(shows="class")) == {"shows": "not-a-list"}
    for minutes in (-1, 1441, 1.5, "30", True):
        assert rules(sent(alarm_min=minutes)) == {"alarm_min": "invalid"}
    refused(sent(about="duties", studio="flame"), 403, "not-allowed")
    assert not FeedKey.objects.exists()


def test_a_link_about_one_thing_names_no_other(technician: Api, town: Town) -> None:
    kiln = str(town.equipment["kiln"].uid)

    refusal = technician.post("feed-keys/", label="x", about="duties", studio="flame", equipment=kiln)

    problem = refused(refusal, 400, "invalid-input", "equipment")
    assert problem["detail"] == "A calendar about the technician's duties names no equipment."


def test_a_link_has_a_name(instructor: Api) -> None:
    assert rules(instructor.post("feed-keys/")) == {"label": "required"}
    assert rules(instructor.post("feed-keys/", label="x" * 61)) == {"label": "max-length"}
    assert rules(instructor.post("feed-keys/", label=7)) == {"label": "invalid"}
    assert rules(instructor.post("feed-keys/", label="  ")) == {"label": "invalid-input"}
    assert not FeedKey.objects.exists()


def test_nobody_sees_or_withdraws_another_persons_link(instructor: Api, student: Api) -> None:
    uid = instructor.post("feed-keys/", label="my phone").json()["uid"]

    assert student.get("feed-keys/").json()["results"] == []
    refused(student.delete(f"feed-keys/{uid}/"), 404, "not-found")
    assert FeedKey.objects.get().revoked_at is None


WISH = {
    "course": "blowing",
    "studio": "hot-shop",
    "first_day": "2031-03-04",
    "last_day": "2031-03-06",
    "time": "18:00",
}


def test_every_asked_day_is_answered_with_what_it_would_hold(instructor: Api) -> None:
    found = instructor.get("options/", **WISH).json()

    assert [option["starts_at"] for option in found["options"]] == [
        "2031-03-05T00:00:00Z",
        "2031-03-06T00:00:00Z",
        "2031-03-07T00:00:00Z",
    ]
    held = {line["equipment"]["name"] for line in found["options"][0]["held"]}
    assert {"furnace", "hole 1", "annealer 1"} <= held
    assert found["refused"] == []
    assert not Occupancy.objects.exists()


def test_a_day_that_does_not_work_says_why_and_what_is_nearest(
    instructor: Api, town: Town, technician: Api
) -> None:
    outage(technician, town.equipment["furnace"])

    found = instructor.get("options/", **WISH).json()

    (refusal,) = found["refused"]
    assert refusal["starts_at"] == "2031-03-05T00:00:00Z"
    assert "new element" in refusal["reasons"][0]["sentence"]
    assert refusal["nearest"]["starts_at"] >= refusal["reasons"][0]["until"]
    assert len(found["options"]) == 2


def test_the_asked_time_is_that_of_the_clocks_on_both_sides_of_their_change(instructor: Api) -> None:
    days = {"first_day": "2031-03-08", "last_day": "2031-03-09"}

    found = instructor.get("options/", **{**WISH, **days}).json()

    assert [option["starts_at"] for option in found["options"]] == [
        "2031-03-09T00:00:00Z",
        "2031-03-09T23:00:00Z",
    ]


def test_a_time_that_the_clocks_jump_over_is_answered_so(instructor: Api) -> None:
    wish = {**WISH, "first_day": "2031-03-09", "last_day": "2031-03-09", "time": "02:30"}

    (refusal,) = instructor.get("options/", **wish).json()["refused"]

    assert refusal["starts_at"] is None
    assert refusal["reasons"][0]["code"] == "no-such-wall-time"


@pytest.mark.parametrize(
    ("change", "at_fault"),
    [
        ({"last_day": "2031-03-03"}, {"last_day": "end-after-start"}),
        ({"last_day": "2031-05-05"}, {"last_day": "too-long"}),
        ({"last_day": "9999-12-31"}, {"last_day": "out-of-range"}),
        ({"first_day": "0001-01-01"}, {"first_day": "out-of-range"}),
        ({"first_day": "2031-02-30"}, {"first_day": "invalid"}),
        ({"first_day": "20310304"}, {"first_day": "invalid"}),
        ({"time": "24:00"}, {"time": "invalid"}),
        ({"time": "18:00:00"}, {"time": "invalid"}),
        ({"time": "18"}, {"time": "invalid"}),
        ({"studio": "flame"}, {"studio": "not-taught-there"}),
        ({"studio": ["hot-shop", "nowhere"]}, {"studio.1": "does-not-exist"}),
        ({"studio": ["hot-shop"] * 11}, {"studio": "max-length"}),
        ({"course": "knitting"}, {"course": "does-not-exist"}),
        ({"instructor": "me"}, {"instructor": "invalid"}),
    ],
)
def test_a_wish_is_checked(instructor: Api, change: dict[str, Any], at_fault: dict[str, str]) -> None:
    assert rules(instructor.get("options/", **{**WISH, **change})) == at_fault


def test_a_wish_says_all_that_it_needs(instructor: Api) -> None:
    missing = dict.fromkeys(("course", "studio", "first_day", "last_day", "time"), "required")

    assert rules(instructor.get("options/")) == missing


@pytest.mark.parametrize("who", ["student", "technician"])
def test_who_books_nothing_looks_for_nothing(town: Town, speak: Speak, who: str) -> None:
    refused(speak(getattr(town, who)).get("options/", **WISH), 403, "not-allowed", "studio")
