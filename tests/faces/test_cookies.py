"""A cookie is whatever somebody sends."""

from __future__ import annotations

import pytest
from django.test import Client

from scheduling.project.sessions import SessionStore
from tests.worlds import Town

pytestmark = pytest.mark.django_db

FORGED = ["\0" * 32, "a" * 31 + "\0", "\\000" * 8, "x" * 5000, "\xe4" * 32, "A" * 32, "'; --" * 7, ""]


@pytest.mark.parametrize("name", ["sessionid", "csrftoken", "messages"])
@pytest.mark.parametrize("value", FORGED)
@pytest.mark.parametrize(
    ("path", "status"), [("/", 302), ("/sign-in", 200), ("/api/me/", 401), ("/admin/", 302)]
)
def test_a_forged_cookie_signs_nobody_in_and_breaks_nothing(
    town: Town, name: str, value: str, path: str, status: int
) -> None:
    client = Client()
    client.cookies[name] = value

    assert client.get(path).status_code == status


@pytest.mark.parametrize("value", ["\0" * 32, "x" * 32])
def test_somebody_with_a_forged_session_signs_in_all_the_same(town: Town, value: str) -> None:
    client = Client()
    client.cookies["sessionid"] = value

    answer = client.post("/sign-in", {"username": "student@town.example", "password": "glass"})

    assert answer.status_code == 302
    assert client.get("/account").status_code == 200


def test_a_session_of_ours_is_taken(town: Town) -> None:
    session = SessionStore()
    session.create()

    assert SessionStore(session.session_key).session_key == session.session_key
