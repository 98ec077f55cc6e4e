"""Whatever is sent: never a 5xx, and only what the description promises. Every check is on.

`REQUESTS` asks for more requests to each endpoint than the suite sends.
"""

from __future__ import annotations

import datetime as dt
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
import schemathesis
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st
from rest_framework.authtoken.models import Token
from schemathesis import GenerationMode
from schemathesis.checks import load_all_checks
from schemathesis.core.result import Ok
from schemathesis.specs.openapi import checks

from studios.models import Person
from tests.faces.api.conftest import Api, Speak
from tests.faces.api.real_names import fill_in, real_values
from tests.worlds import Town

REQUESTS = int(os.environ.get("REQUESTS", "16"))
load_all_checks()
READ = {"GET /api/sessions/", "GET /api/sessions/{uid}/", "GET /api/firings/{uid}/", "GET /api/occupancies/"}
REACHED = {
    "instructor": READ
    | {
        "POST /api/sessions/",
        "POST /api/sessions/{uid}/cancel/",
        "GET /api/options/",
        "GET /api/best-starts/",
        "GET /api/weekly-times/",
        "POST /api/series/",
        "GET /api/series/{uid}/",
        "POST /api/other-calendars/",
        "POST /api/other-calendars/{uid}/read-again/",
        "POST /api/kiln-jobs/",
        "GET /api/kiln-jobs/{uid}/",
        "GET /api/kiln-answers/{uid}/",
        "POST /api/kiln-answers/{uid}/book/",
        "POST /api/open-firings/",
        "GET /api/pieces/{uid}/",
    },
    "manager": READ
    | {
        "POST /api/sessions/{uid}/cancel/",
        "POST /api/sessions/{uid}/move/",
        "GET /api/rosters/{uid}/",
        "DELETE /api/outages/{uid}/",
        "GET /api/audit-entries/",
        "GET /api/messages/",
    },
    "student": READ | {"POST /api/seats/", "POST /api/seats/{uid}/cancel/", "DELETE /api/feed-keys/{uid}/"},
    "technician": READ
    | {
        "POST /api/outages/",
        "POST /api/feed-keys/",
        "POST /api/calibrations/",
        "POST /api/refills/",
        "POST /api/charges/",
        "POST /api/charges/{uid}/cancel/",
        "GET /api/charge-proposals/",
        "GET /api/calibrations/{uid}/",
    },
}
OPEN_TO_ALL = {"GET /api/problems/{code}/"}
# What a well-formed request may meet, beside being carried out: what you have still holds, your role, what
# there is, what is booked, what cannot be, too many attempts.
MET = ["2xx", "304", "403", "404", "409", "422", "429"]
NOBODY = [*MET, "401"]
# Rules broken by a well-formed request (400) that no description of one field can state: which names exist,
# what is taught where, one field by another, and what a service says of a value at that time.
BETWEEN_FIELDS = {
    "does-not-exist",
    "not-taught-there",
    "required",
    "not-with-session",
    "end-after-start",
    "too-long",
    "invalid-input",
}
# Only a day or an instant of these two centuries is well formed; drawn from all years they would be too few.
DAYS = st.dates(min_value=dt.date(2000, 1, 1), max_value=dt.date(2199, 12, 31)).map(dt.date.isoformat)
CLOCKS = st.times().map(lambda time: time.strftime("%H:%M:00"))
OFFSETS = st.sampled_from(["Z", "-06:00", "+05:30"])
schemathesis.openapi.format("date", DAYS)
schemathesis.openapi.format("date-time", st.builds("{}T{}{}".format, DAYS, CLOCKS, OFFSETS))


@contextmanager
def connection_kept() -> Iterator[None]:
    """A server looks after its connection between requests; here it holds the test's own transaction."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    try:
        yield
    finally:
        for signal in (request_started, request_finished):
            signal.connect(close_old_connections)


@contextmanager
def described(met: list[str]) -> Iterator[list[Any]]:
    """All that is described, spoken to in process; `met` is what well-formed requests may be answered."""
    config = schemathesis.Config.from_dict(
        {"checks": allowed(met), "operations": [{"include-path": "/api/token/", "checks": allowed(NOBODY)}]}
    )
    with connection_kept():
        schema = schemathesis.openapi.from_wsgi("/api/schema?format=json", WSGIHandler(), config=config)
        yield [result.ok() for result in schema.get_all_operations() if isinstance(result, Ok)]


def allowed(met: list[str]) -> dict[str, Any]:
    return {"positive_data_acceptance": {"expected-statuses": met}}


def signed_in(case: Any) -> None:
    """Our token alone says who asks: what is made up beside it shows nothing of those who have none."""
    case.cookies.pop("sessionid", None)
    case.headers.pop("Authorization", None)


def beyond_description(answer: Any) -> list[Any]:
    """The check that a refusal by such rules only would fail."""
    if answer.status_code != 400:
        return []
    rules = {error["code"] for error in json.loads(answer.content)["errors"]}
    return [checks.positive_data_acceptance] if rules and rules <= BETWEEN_FIELDS else []


def ask(case: Any, headers: dict[str, str]) -> int:
    """Send a request and check the answer, each way that the library knows."""
    answer = case.call(headers=headers)
    case.validate_response(
        answer,
        headers=headers,
        excluded_checks=beyond_description(answer),
        transport_kwargs={"headers": dict(headers)},
    )
    return int(answer.status_code)


def try_out(operation: Any, headers: dict[str, str], real: dict[str, list[Any]]) -> set[int]:
    """Send well-formed and malformed requests to one endpoint, each undone again; gives the statuses seen."""
    cases = operation.as_strategy(GenerationMode.POSITIVE) | operation.as_strategy(GenerationMode.NEGATIVE)
    seen: set[int] = set()

    @seed(1)
    @settings(
        max_examples=REQUESTS,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=cases, data=st.data())
    def send(case: Any, data: Any) -> None:
        if headers:
            signed_in(case)
        if case.meta.generation.mode.is_positive:
            fill_in(case, real, data.draw)
        with transaction.atomic():
            seen.add(ask(case, headers))
            transaction.set_rollback(True)

    send()
    return seen


@pytest.mark.parametrize("who", ["instructor", "student", "technician", "manager"])
def test_whatever_is_sent_is_answered_as_described(
    town: Town, instructor: Api, speak: Speak, who: str
) -> None:
    person: Person = getattr(town, who)
    headers = {"Authorization": f"Token {Token.objects.create(user=person).key}"}
    real = real_values(town, instructor, speak(person), person)
    with described(MET) as operations:
        seen = {operation.label: try_out(operation, headers, real) for operation in operations}

    assert len(seen) > 25
    # The requests were good enough to reach what they are for.
    assert {label for label in REACHED[who] if not seen[label] & {200, 201, 204}} == set()


def test_whatever_nobody_sends_is_answered_as_described(town: Town, instructor: Api, speak: Speak) -> None:
    """Without credentials, and with made-up ones: nothing is told or done but what is open to all."""
    real = real_values(town, instructor, speak(town.student), town.student)
    with described(NOBODY) as operations:
        seen = {operation.label: try_out(operation, {}, real) for operation in operations}

    answered = {label for label, statuses in seen.items() if statuses & {200, 201, 204}}
    assert answered == OPEN_TO_ALL
    assert {label for label in seen if 401 not in seen[label]} == OPEN_TO_ALL
