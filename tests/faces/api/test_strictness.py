"""Bad input gets a 4xx that names the field and the rule, and nothing is half written."""

from __future__ import annotations

from typing import Any

import pytest

from scheduling.models import Booking, Outage, Seat, Session
from tests.faces.api.conftest import Api, refused, rules
from tests.worlds import Town, local

NOON = local(1, 12).isoformat()


@pytest.mark.parametrize(
    ("value", "rule"),
    [
        ("2031-03-04T18:00:00", "naive-time"),
        ("2031-03-04T18:00", "naive-time"),
        ("2031-03-04T18:00:30Z", "whole-minute"),
        ("2031-03-04T18:00:00.5Z", "whole-minute"),
        ("2031-03-04", "invalid"),
        ("2031-02-30T18:00:00Z", "invalid"),
        ("2031-03-04T25:00:00Z", "invalid"),
        ("2031-03-04T18:00:00+24:00", "invalid"),
        ("2031-03-04T18:00:00+99:99", "invalid"),
        ("2031-W10-2T18:00:00Z", "invalid"),
        ("２０３１-03-04T18:00:00Z", "invalid"),
        ("9999-12-31T23:59:00-23:59", "out-of-range"),
        ("0001-01-01T00:00:00+23:59", "out-of-range"),
        ("0000-01-01T00:00:00Z", "invalid"),
        ("1999-12-31T23:59:00Z", "out-of-range"),
        ("2200-01-01T00:00:00Z", "out-of-range"),
        ("", "invalid"),
        ("tomorrow", "invalid"),
        (1_930_000_000, "invalid"),
        (10**400, "invalid"),
        (1.5, "invalid"),
        (True, "invalid"),
        ([], "invalid"),
        ({}, "invalid"),
        (None, "null"),
    ],
)
def test_a_start_is_an_instant_on_a_whole_minute(instructor: Api, value: Any, rule: str) -> None:
    response = instructor.post("sessions/", course="blowing", studio="hot-shop", starts_at=value)

    assert rules(response) == {"starts_at": rule}
    assert not Booking.objects.exists()


def test_an_instant_means_the_same_with_any_offset(instructor: Api) -> None:
    response = instructor.post(
        "sessions/", course="blowing", studio="hot-shop", starts_at="2031-03-05T05:30:00+05:30"
    )

    assert response.json()["starts_at"] == "2031-03-05T00:00:00Z"


@pytest.mark.parametrize("value", ["nothing", "", 7, True, None, [], {}, "hot shop", "x" * 5000, "0"])
def test_a_studio_is_named_by_its_slug(instructor: Api, value: Any) -> None:
    response = instructor.post("sessions/", course="blowing", studio=value, starts_at=NOON)

    assert rules(response)["studio"] in {"invalid", "does-not-exist", "null"}


@pytest.mark.parametrize(
    "value", ["1", 1, "00000000-0000-0000-0000-000000000000", 2**200, "x" * 36, "{}", None]
)
def test_a_torch_is_named_by_its_uid(student: Api, value: Any) -> None:
    response = student.post("seats/", torch=value, starts_at=NOON, ends_at=NOON)

    assert rules(response)["torch"] in {"invalid", "does-not-exist", "null"}
    assert not Seat.objects.exists()


def test_every_field_at_fault_is_named_at_once(instructor: Api) -> None:
    response = instructor.post("sessions/", course=7, starts_at="soon", seats=4, colour="red")

    assert rules(response) == {
        "course": "invalid",
        "studio": "required",
        "starts_at": "invalid",
        "seats": "unknown-name",
        "colour": "unknown-name",
    }


@pytest.mark.parametrize("path", ["sessions/", "seats/", "outages/", "feed-keys/", "token/"])
def test_an_unknown_name_in_a_body_is_refused(instructor: Api, path: str) -> None:
    assert rules(instructor.post(path, shape="round"))["shape"] == "unknown-name"


def test_a_cancellation_says_nothing(instructor: Api) -> None:
    uid = instructor.book().json()["uid"]

    assert rules(instructor.post(f"sessions/{uid}/cancel/", reason="rain")) == {"reason": "unknown-name"}
    assert Session.objects.get().status == "booked"


@pytest.mark.parametrize("text", ["a\0b", "\0", "\ud800", "half \udfff"])
def test_text_that_no_database_keeps_is_refused(technician: Api, town: Town, text: str) -> None:
    kiln = str(town.equipment["kiln"].uid)
    response = technician.post("outages/", equipment=kiln, starts_at=NOON, ends_at=NOON, reason=text)

    assert rules(response) == {"reason": "unstorable-text"}
    assert rules(technician.post("outages/", **{text: 1}))[""] == "unstorable-text"
    assert rules(technician.post("outages/", equipment=text))["equipment"] == "unstorable-text"
    assert not Outage.objects.exists()


@pytest.mark.parametrize(
    ("path", "query", "at_fault"),
    [
        ("sessions/", {"colour": "red"}, {"colour": "unknown-name"}),
        ("sessions/", {"mine": "yes"}, {"mine": "invalid"}),
        ("sessions/", {"mine": ""}, {"mine": "invalid"}),
        ("sessions/", {"status": "lost"}, {"status": "invalid-choice"}),
        ("sessions/", {"from_": "2031-03-04T18:00:00"}, {"from": "naive-time"}),
        ("sessions/", {"from_": NOON, "to": NOON}, {"to": "end-after-start"}),
        ("sessions/", {"studio": "a\0"}, {"studio": "unstorable-text"}),
        ("sessions/", {"studio": ["flame", "hot-shop"]}, {"studio": "repeated"}),
        ("sessions/", {"studio": "elsewhere"}, {"studio": "does-not-exist"}),
        ("sessions/", {"instructor": "1"}, {"instructor": "invalid"}),
        ("sessions/", {"limit": "0"}, {"limit": "min-value"}),
        ("sessions/", {"limit": "201"}, {"limit": "max-value"}),
        ("sessions/", {"limit": "-1"}, {"limit": "invalid"}),
        ("sessions/", {"limit": "1.0"}, {"limit": "invalid"}),
        ("sessions/", {"offset": "9" * 400}, {"offset": "invalid"}),
        ("sessions/", {"offset": "1000001"}, {"offset": "max-value"}),
        ("equipment/", {"kind": "robot"}, {"kind": "invalid-choice"}),
        ("me/", {"full": "1"}, {"full": "unknown-name"}),
        ("glasses/studio-96/", {"full": "1"}, {"full": "unknown-name"}),
        ("occupancies/", {}, {"studio": "required", "from": "required", "to": "required"}),
    ],
)
def test_a_parameter_is_never_ignored(
    instructor: Api, path: str, query: dict[str, Any], at_fault: dict[str, str]
) -> None:
    assert rules(instructor.get(path, **query)) == at_fault


def test_an_address_takes_no_parameters_when_something_is_written(instructor: Api) -> None:
    response = instructor.client.post(
        "/api/feed-keys/?dry=1", {"label": "phone"}, content_type="application/json"
    )

    assert rules(response) == {"dry": "unknown-name"}


@pytest.mark.parametrize(
    ("number", "fits"),
    [
        ("20.5", True),
        ("20", True),
        ("1e400", False),
        ("1" + "0" * 400, False),
        ('"20"', False),
        ("true", False),
    ],
)
def test_a_number_is_one_that_can_be_reckoned_with(technician: Api, number: str, fits: bool) -> None:
    response = technician.client.post(
        "/api/actuals/", f'{{"read_c": {number}}}', content_type="application/json"
    )

    assert (rules(response).get("read_c") is None) == fits


@pytest.mark.parametrize(
    ("version", "fits"), [(1, True), (2.0, True), (1.5, False), (0, False), ("1", False), (True, False)]
)
def test_the_version_of_a_text_is_a_whole_number(student: Api, version: Any, fits: bool) -> None:
    """JSON knows no whole numbers beside others: 2.0 is one."""
    response = student.post("acknowledgements/", version=version, studio="flame", on_day="soon")

    assert (rules(response).get("version") is None) == fits


@pytest.mark.parametrize("key", ["", " ", "a b", "\u00e4", "x" * 201])
def test_an_idempotency_key_is_plain(instructor: Api, key: str) -> None:
    response = instructor.post("feed-keys/", label="phone", headers={"Idempotency-Key": key})

    assert rules(response) == {"Idempotency-Key": "invalid"}


def test_a_window_of_occupancies_is_not_endless(instructor: Api) -> None:
    response = instructor.get(
        "occupancies/", studio="hot-shop", from_="2031-01-01T00:00:00Z", to="2031-04-01T00:00:00Z"
    )

    assert rules(response) == {"to": "too-long"}


def test_the_first_and_the_last_minute_break_nothing(instructor: Api) -> None:
    def ask(starts_at: str) -> Any:
        return instructor.post("sessions/", course="blowing", studio="hot-shop", starts_at=starts_at)

    refused(ask("2000-01-01T00:00:00Z"), 409, "no-start", "starts_at")
    assert ask("2199-12-31T23:59:00Z").status_code == 201
