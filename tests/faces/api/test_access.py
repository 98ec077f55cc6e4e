"""Who is let in, and how."""

from __future__ import annotations

import pytest
from django.test import Client

from tests.faces.api.conftest import Api, refused, rules
from tests.worlds import Town


def token_of(email: str, password: str = "glass") -> str:
    response = Api().post("token/", email=email, password=password)
    assert response.status_code == 200
    return str(response.json()["token"])


def bearing(token: str) -> dict[str, str]:
    return {"Authorization": f"Token {token}"}


def test_a_token_signs_a_program_in(town: Town) -> None:
    token = token_of("Instructor@Town.example")

    me = Api().get("me/", headers=bearing(token))

    assert me.json()["email"] == "instructor@town.example"
    assert me.json()["studios"] == ["flame", "hot-shop"]
    assert {"studio": "flame", "role": "instructor"} in me.json()["roles"]
    assert {"studio": "flame", "kind": "torch"} in me.json()["qualifications"]


def test_a_program_with_a_token_needs_no_csrf_token(town: Town) -> None:
    client = Client(enforce_csrf_checks=True, headers=bearing(token_of("student@town.example")))

    assert Api(client).bench(town.torches[0]).status_code == 201


def test_a_cookie_alone_changes_nothing(town: Town) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(town.student)

    refused(Api(client).bench(town.torches[0]), 403, "permission-denied")


def test_a_withdrawn_token_is_void(town: Town) -> None:
    token = token_of("student@town.example")

    assert Client(headers=bearing(token)).delete("/api/me/token/").status_code == 204

    refused(Api().get("me/", headers=bearing(token)), 401, "authentication-failed")


@pytest.mark.parametrize(
    ("email", "password"),
    [
        ("student@town.example", "wrong"),
        ("nobody@town.example", "glass"),
        ("student@town.example", " glass "),
    ],
)
def test_a_wrong_password_and_an_unknown_address_look_alike(town: Town, email: str, password: str) -> None:
    problem = refused(Api().post("token/", email=email, password=password), 401, "authentication-failed")

    assert problem["detail"] == "No account has this e-mail address and password."


def test_somebody_deactivated_is_not_let_in(town: Town) -> None:
    token = token_of("student@town.example")
    town.student.is_active = False
    town.student.save()

    refused(
        Api().post("token/", email="student@town.example", password="glass"), 401, "authentication-failed"
    )
    refused(Api().get("me/", headers=bearing(token)), 401, "authentication-failed")


def test_passwords_are_not_guessed_by_trying(town: Town) -> None:
    for _ in range(10):
        Api().post("token/", email="student@town.example", password="guess")

    response = Api().post("token/", email="Student@town.example", password="glass")

    refused(response, 429, "throttled")
    assert 0 < int(response.headers["Retry-After"]) <= 61
    assert token_of("instructor@town.example")


def test_signing_in_names_what_is_missing(town: Town) -> None:
    assert rules(Api().post("token/", email="no address")) == {"email": "invalid", "password": "required"}
    assert rules(Api().post("token/", email="a@b.example", password="x\0")) == {"password": "unstorable-text"}


@pytest.mark.parametrize(
    "value", ["Token", "Token a b", "Token x", "Token \u00e4\u0000", "Token " + "0" * 40]
)
def test_what_is_no_token_is_refused(town: Town, value: str) -> None:
    refused(Api().get("me/", headers={"Authorization": value}), 401, "authentication-failed")


LISTS = [
    "studios",
    "equipment",
    "supplies",
    "glasses",
    "courses",
    "sessions",
    "seats",
    "firings",
    "outages",
    "feed-keys",
    "messages",
    "calibrations",
]


@pytest.mark.parametrize("path", [*(f"{name}/" for name in LISTS), "me/", "options/", "occupancies/"])
def test_nobody_reads_without_signing_in(db: None, path: str) -> None:
    response = Api().get(path)

    refused(response, 401, "not-authenticated")
    assert response.headers["WWW-Authenticate"] == 'Token realm="Lehrbook"'


@pytest.mark.parametrize("path", ["sessions/", "seats/", "outages/", "feed-keys/", "calibrations/"])
def test_nobody_writes_without_signing_in(db: None, path: str) -> None:
    refused(Api().post(path), 401, "not-authenticated")
