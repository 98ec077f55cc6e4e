"""Every error is a problem (RFC 9457)."""

from __future__ import annotations

from typing import Any

import pytest

from scheduling.api import problems
from scheduling.api.views import problems as kinds
from scheduling.errors import NoStart, NotAllowed
from studios.errors import LehrbookError
from studios.thermal.errors import NothingToFire
from tests.faces.api.conftest import Api, refused
from tests.worlds import Town


def test_a_refusal_says_what_is_in_the_way_and_until_when(instructor: Api) -> None:
    instructor.book()

    problem = refused(instructor.book(), 409, "no-start", "starts_at")

    assert problem["title"] == "Nothing stands free as asked"
    assert problem["detail"] == problem["reasons"][0]["sentence"]
    assert problem["reasons"][0]["code"] == "person-busy"
    assert problem["reasons"][0]["until"] == "2031-03-05T03:00:00Z"


@pytest.mark.parametrize("path", ["", "nothing/", "sessions/7/", "studios/no%20slug/", "sessions//", "%00"])
@pytest.mark.parametrize("method", ["get", "post", "put", "patch", "delete", "options", "trace"])
def test_what_is_nowhere_is_a_problem_too(instructor: Api, path: str, method: str) -> None:
    problem = refused(instructor.client.generic(method.upper(), f"/api/{path}"), 404, "not-found")

    assert problem["errors"] == []


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_what_an_address_cannot_do_is_a_problem(instructor: Api, method: str) -> None:
    response = instructor.client.generic(method, "/api/sessions/")

    refused(response, 405, "method-not-allowed")
    assert response.headers["Allow"] == "GET, HEAD, POST"


def test_an_address_that_lacks_its_slash_is_led_there_with_its_body(instructor: Api) -> None:
    response = instructor.client.post(
        "/api/feed-keys?x=1", {"label": "phone"}, content_type="application/json"
    )

    assert response.status_code == 308
    assert response.headers["Location"] == "/api/feed-keys/?x=1"


def test_answers_are_json_and_nothing_else(instructor: Api) -> None:
    refused(instructor.get("me/", headers={"Accept": "application/xml"}), 406, "not-acceptable")


@pytest.mark.parametrize(
    "kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "text/plain"]
)
def test_bodies_are_json_and_nothing_else(instructor: Api, kind: str) -> None:
    response = instructor.client.post("/api/feed-keys/", b"label=phone", content_type=kind)

    refused(response, 415, "unsupported-media-type")


def test_a_form_read_before_us_is_refused_as_a_form(town: Town) -> None:
    client = Api().client
    client.handler.enforce_csrf_checks = True
    client.force_login(town.student)
    body = b'--x\r\nContent-Disposition: form-data; name="label"\r\n\r\nphone\r\n--x--\r\n'

    response = client.post("/api/feed-keys/", body, content_type="multipart/form-data; boundary=x")

    assert response.status_code in (403, 415)
    refused(response, response.status_code, response.json()["code"])


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b'{"label": NaN}',
        b'{"label": "a", "label": "b"}',
        b"\xff\xfe",
        b'{"a":' * 5000,
        b"[" * 30_000,
        b'{"label": ' + b"9" * 5000 + b"}",
    ],
    ids=["cut-off", "no-number", "a-name-twice", "no-utf8", "deep-objects", "deep-lists", "endless-digits"],
)
def test_what_is_no_json_is_a_problem(instructor: Api, body: bytes) -> None:
    response = instructor.client.post("/api/feed-keys/", body, content_type="application/json")

    refused(response, 400, "parse-error")


@pytest.mark.parametrize("length", [66_000, 3_000_000])
def test_a_body_that_is_too_long_is_a_problem(instructor: Api, length: int) -> None:
    refused(instructor.post("feed-keys/", label="x" * length), 413, "too-large")


@pytest.mark.parametrize("body", ["[]", '"text"', "7", "null", "true"])
def test_a_body_is_an_object(instructor: Api, body: str) -> None:
    response = instructor.client.post("/api/feed-keys/", body, content_type="application/json")

    problem = refused(response, 400, "invalid-input")
    assert problem["errors"]


def test_what_breaks_here_is_a_problem_and_is_logged(
    instructor: Api, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_: Any) -> Any:
        raise ZeroDivisionError

    monkeypatch.setattr("scheduling.api.views.sessions.visible.sessions_of", broken)
    instructor.client.raise_request_exception = False

    problem = refused(instructor.get("sessions/"), 500, "server-error")

    assert "ZeroDivisionError" in caplog.text
    assert "ZeroDivisionError" not in str(problem)


def test_every_type_leads_to_its_explanation(instructor: Api) -> None:
    problem = refused(instructor.post("sessions/"), 400, "invalid-input")

    explained = Api().client.get(problem["type"])

    assert explained.json() == {"code": "invalid-input", "title": problem["title"], "status": 400}
    refused(Api().get("problems/no-such-kind/"), 404, "not-found")


def test_every_refusal_has_a_status_a_code_and_a_title_of_its_own() -> None:
    leaves = kinds._leaves(LehrbookError)

    assert {problems.status_of(leaf) for leaf in leaves} == {400, 403, 409, 422}
    assert len({leaf.code for leaf in leaves}) == len(leaves)
    assert all(len(problems.title_of(leaf)) < 100 for leaf in leaves)


def test_the_table_of_statuses() -> None:
    assert problems.status_of(NoStart) == 409
    assert problems.status_of(NotAllowed) == 403
    assert problems.status_of(NothingToFire) == 422
