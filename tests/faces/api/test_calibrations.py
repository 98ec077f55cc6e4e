"""Fitting logs and making a fit the record through the API."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from scheduling.models import Firing
from studios.models import Calibration, Studio, ThermalRecord
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.logs import cooling_log, firing_log
from tests.services.test_booking import book
from tests.worlds import Town, local

ACCEPT = {"ranges": "one", "valid_from": "2031-03-04"}


@pytest.fixture(autouse=True)
def _monday_morning(town: Town) -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


def fit(api: Api, town: Town, log: str, name: str = "annealer 1", **more: Any) -> Any:
    uid = str(town.equipment[name].uid)
    return api.post("calibrations/", equipment=uid, log=log, file_name="night.csv", **more)


def test_a_log_is_fitted_and_a_fit_accepted(technician: Api, town: Town) -> None:
    book(town, "blowing", local(4, 18))

    response = fit(technician, town, cooling_log(5.0))

    assert response.status_code == 201, response.content
    found = response.json()
    assert found["offered"] == "one"
    assert found["record"] is None
    assert found["one_range"]["tau_h"] == pytest.approx(5.0, rel=0.01)
    assert [each["name"] for each in found["one_range"]["intervals"]] == ["tau_h"]
    assert found["one_range"]["judgement"]["judged_c"] == 50
    firing = Firing.objects.get()
    (moved,) = found["would_move"][0]["firings"]
    assert (moved["firing"], moved["concerns"]) == (str(firing.uid), "blowing, Instructor")
    assert moved["later_min"] > 60
    assert technician.get(f"calibrations/{found['uid']}/").json() == found

    accepted = technician.post(f"calibrations/{found['uid']}/accept/", **ACCEPT)

    assert accepted.status_code == 201, accepted.content
    assert accepted.json()["record"]["valid_from"] == "2031-03-04"
    assert accepted.json()["moved"] == [moved]
    (line,) = technician.get("calibrations/", studio="hot-shop").json()["results"]
    assert line["record"] == accepted.json()["record"]
    assert line["made_by"] == "Technician"
    assert technician.get("calibrations/", equipment=str(town.equipment["kiln"].uid)).json()["count"] == 0
    with time_machine.travel(local(2, 9), tick=False):
        shown = technician.get(f"equipment/{town.equipment['annealer 1'].uid}/").json()
    assert shown["thermal_record"] == accepted.json()["record"]


def test_the_same_request_again_is_one_record(technician: Api, town: Town) -> None:
    uid = fit(technician, town, cooling_log(5.0)).json()["uid"]
    key = {"Idempotency-Key": "accept-it"}

    first, again = (technician.post(f"calibrations/{uid}/accept/", key, **ACCEPT) for _ in range(2))

    assert first.json() == again.json()
    assert ThermalRecord.objects.filter(valid_from="2031-03-04").count() == 1
    refused(technician.post(f"calibrations/{uid}/accept/", **ACCEPT), 409, "over")


def test_what_opens_early_is_accepted_knowingly(technician: Api, town: Town) -> None:
    found = fit(technician, town, cooling_log(2.0, 5.0)).json()
    assert found["offered"] == "two"
    assert found["one_range"]["judgement"]["says_open_early"] is True
    assert found["one_range"]["warnings"]
    address = f"calibrations/{found['uid']}/accept/"

    problem = refused(technician.post(address, **ACCEPT), 409, "not-confirmed", "although_early")
    assert "too early" in problem["detail"]
    assert technician.post(address, **ACCEPT, although_early=True).status_code == 201


def test_a_day_has_one_record(technician: Api, town: Town) -> None:
    first, second = (fit(technician, town, cooling_log(tau_h)).json()["uid"] for tau_h in (5.0, 4.5))
    technician.post(f"calibrations/{first}/accept/", **ACCEPT)

    refused(technician.post(f"calibrations/{second}/accept/", **ACCEPT), 409, "day-has-record", "valid_from")
    past = {**ACCEPT, "valid_from": "2031-03-01"}
    assert rules(technician.post(f"calibrations/{second}/accept/", **past)) == {"valid_from": "invalid-input"}


def test_stretches_may_be_marked(technician: Api, town: Town) -> None:
    found = fit(technician, town, cooling_log(5.0), cooling={"from_min": 60, "to_min": 840}).json()

    assert found["stretches"] == [{"kind": "cooling", "from_min": 60, "to_min": 840, "found": False}]


def test_what_a_log_does_not_say_may_be_sent(technician: Api, town: Town) -> None:
    bare = cooling_log(5.0).replace("elapsed (min)", "elapsed").replace("°C", "?")

    refused(fit(technician, town, bare), 422, "time-unit-unknown", "elapsed")
    found = fit(technician, town, bare, elapsed="min", unit="C", day_first=True, ambient_c=30)

    assert found.status_code == 201, found.content
    assert found.json()["ambient_c"] == 30


def test_a_ceiling_comes_with_its_interval(technician: Api, town: Town) -> None:
    found = fit(technician, town, firing_log(5.0, 820.0)).json()

    ceiling = next(each for each in found["one_range"]["intervals"] if each["name"] == "ceiling_c")
    assert ceiling["low"] <= 820 <= ceiling["high"]


@pytest.mark.parametrize(
    ("log", "more", "code", "field"),
    [
        ("no table at all", {}, "no-table", "log"),
        (cooling_log(5.0), {"unit": "F"}, "temperature-units-disagree", "unit"),
        (cooling_log(5.0), {"ambient_c": 90}, "out-of-range", "ambient_c"),
        (cooling_log(5.0), {"cooling": {"from_min": 1, "to_min": 1}}, "stretch-not-in-log", "stretches"),
    ],
)
def test_a_log_that_cannot_be_used_is_refused_with_its_reason(
    technician: Api, town: Town, log: str, more: dict[str, Any], code: str, field: str
) -> None:
    refused(fit(technician, town, log, **more), 422, code, field)

    assert not Calibration.objects.exists()


@pytest.mark.parametrize(
    ("change", "at_fault"),
    [
        ({"log": ""}, {"log": "blank"}),
        ({"log": 7}, {"log": "invalid"}),
        ({"unit": "K"}, {"unit": "invalid-choice"}),
        ({"ambient_c": "30"}, {"ambient_c": "invalid"}),
        ({"ambient_c": True}, {"ambient_c": "invalid"}),
        ({"ambient_c": 10**400}, {"ambient_c": "invalid"}),
        ({"day_first": "true"}, {"day_first": "invalid"}),
        ({"cooling": {"from_min": 1}}, {"cooling.to_min": "required"}),
        ({"cooling": {"from_min": 1, "to_min": 2, "x": 3}}, {"cooling.x": "unknown-name"}),
        ({"file_name": "x" * 121}, {"file_name": "max-length"}),
    ],
)
def test_a_request_is_checked(
    technician: Api, town: Town, change: dict[str, Any], at_fault: dict[str, str]
) -> None:
    uid = str(town.equipment["annealer 1"].uid)
    body = {"equipment": uid, "log": cooling_log(5.0), "file_name": "night.csv", **change}

    assert rules(technician.post("calibrations/", **body)) == at_fault


def test_a_long_log_goes_through_and_one_without_end_does_not(technician: Api, town: Town) -> None:
    long = cooling_log(5.0) + "\n" * 300_000

    assert fit(technician, town, long).status_code == 201
    refused(fit(technician, town, "\n" * 2_600_000), 413, "too-large")


@pytest.mark.parametrize(("who", "status"), [("student", 403), ("instructor", 403), ("manager", 201)])
def test_who_may_calibrate(town: Town, speak: Speak, technician: Api, who: str, status: int) -> None:
    uid = fit(technician, town, cooling_log(5.0)).json()["uid"]
    api = speak(getattr(town, who))

    assert fit(api, town, cooling_log(5.0)).status_code == status
    seen = status == 201
    assert (api.get(f"calibrations/{uid}/").status_code == 200) == seen
    assert (api.get("calibrations/").json()["count"] > 0) == seen
    assert api.post(f"calibrations/{uid}/accept/", **ACCEPT).status_code == (201 if seen else 404)


def test_another_studios_technician_finds_nothing(town: Town, speak: Speak, technician: Api) -> None:
    uid = fit(technician, town, cooling_log(5.0)).json()["uid"]
    other = Studio.objects.create(name="Other", slug="other", time_zone="UTC")
    town.stranger.memberships.create(studio=other, role="technician")
    stranger = speak(town.stranger)

    assert rules(fit(stranger, town, cooling_log(5.0))) == {"equipment": "does-not-exist"}
    refused(stranger.get(f"calibrations/{uid}/"), 404, "not-found")
    assert stranger.get("calibrations/").json()["count"] == 0
