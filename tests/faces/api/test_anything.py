"""Whatever is sent, well formed or not: never a 5xx, and only what the description promises."""

from __future__ import annotations

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

from scheduling.models import (
    Actual,
    Collection,
    Firing,
    Message,
    Outage,
    PickUp,
    Session,
    WaitingPlace,
)
from scheduling.services.calibrating import fit_log
from scheduling.services.charges import book_charge
from scheduling.services.refills import record_refill
from studios.models import Person, Pot, Qualification
from tests.faces.api.conftest import Api, Speak
from tests.logs import cooling_log
from tests.worlds import Town, local

EXAMPLES = 16
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
# What the description cannot know: which studios and uids exist, and what is booked. And a made-up cookie is
# sent beside a good token, which decides (test_access.py says who is let in).
UNFIT = [checks.positive_data_acceptance, checks.ignored_auth]


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


def real_values(town: Town, teacher: Api, api: Api, person: Person) -> dict[str, list[Any]]:
    """Names that exist, so that requests reach the services; uids by the resource they belong to."""
    session = teacher.book("beads", "flame").json()
    teacher.book("blowing", "hot-shop", day=2)
    weekly = {"course": "beads", "studio": "flame", "days": ["2031-04-01", "2031-04-08"], "time": "18:00"}
    series = teacher.post("series/", **weekly).json()
    annealer = town.equipment["annealer 1"]
    fitted = fit_log(actor=town.technician, equipment=annealer, log=cooling_log(5.0), file_name="night.csv")
    furnace, oxygen = town.equipment["furnace"], town.supplies["oxygen"]
    Pot.objects.create(furnace=furnace, capacity_kg=100, floor_kg=40)
    charge = book_charge(actor=town.technician, furnace=furnace, starts_at=local(6, 8))
    oxygen.content = 9000
    oxygen.save()
    refill = record_refill(actor=town.technician, supply=oxygen, at=local(8, 9))
    Qualification.objects.get_or_create(person=person, studio=town.flame, kind="torch")
    seat = api.bench(town.torches[1]).json()["uid"]
    return {
        "course": [town.courses["beads"].slug, town.courses["blowing"].slug],
        "studio": ["flame", "hot-shop"],
        "session": [session["uid"]],
        "torch": [str(town.torches[number].uid) for number in (0, 7)],
        "equipment": [str(town.equipment["kiln"].uid)],
        "instructor": [str(town.instructor.uid)],
        "person": [str(town.student.uid), str(town.instructor.uid)],
        "starts_at": [local(3, 12).isoformat()],
        "ends_at": [local(3, 13).isoformat()],
        "from": [local(0, 0).isoformat()],
        "to": [local(9, 0).isoformat()],
        "first_day": ["2031-03-08"],
        "last_day": ["2031-03-09"],
        "days": ["2031-03-10", "2031-03-17"],
        "skip": ["2031-03-15"],
        "time": ["18:00", "10:30"],
        "sessions": [session["uid"]],
        "series": [series["uid"]],
        "firings": [session["firings"][0]["uid"]],
        "firing": [session["firings"][0]["uid"]],
        **what_came_of_it(town, session["uid"], person),
        "rosters": [session["uid"]],
        "seats": [seat],
        "paid-seats": [seat],
        "feed-keys": [api.post("feed-keys/", label="phone").json()["uid"]],
        "studios": ["flame", "hot-shop"],
        "courses": ["beads", "blowing"],
        "glasses": ["soft-104", "boro-33"],
        "problems": ["no-start", "not-found"],
        "log": [cooling_log(5.0)],
        "calibrations": [str(fitted.uid)],
        "furnace": [str(furnace.uid)],
        "charges": [str(charge.uid)],
        "refills": [str(refill.uid)],
        "messages": [str(Message.objects.earliest("pk").uid)],
        "supply": [str(oxygen.uid)],
        "at": [local(2, 9).isoformat()],
    }


def what_came_of_it(town: Town, session_uid: str, person: Person) -> dict[str, list[Any]]:
    """Something recorded of a firing, its pieces on a shelf, somebody waiting, and an outage elsewhere."""
    session, firing, at = Session.objects.get(uid=session_uid), Firing.objects.earliest("pk"), local(0, 9)
    lit = Actual.objects.create(firing=firing, kind="lit", at=at, recorded_by=town.technician)
    shelf = PickUp.objects.create(
        load=firing.loads.get(), shelf="shelf 3", ready_at=at, recorded_by=town.technician
    )
    pieces = Collection.objects.create(pick_up=shelf, person=person)
    waiting = WaitingPlace.objects.create(session=session, person=person)
    outage = Outage.objects.create(
        equipment=town.equipment["saw"], starts_at=local(8, 9), ends_at=local(8, 10), reason="new belt"
    )
    return {
        "actuals": [str(lit.uid)],
        "collections": [str(pieces.uid)],
        "waiting-places": [str(waiting.uid)],
        "outages": [str(outage.uid)],
    }


def fill_in(case: Any, real: dict[str, list[Any]], choose: Any) -> None:
    """Put real names where the request has names of that kind; often send a body that is good as a whole."""
    times = {"starts_at": "", "ends_at": ""}
    good: dict[str, list[dict[str, Any]]] = {
        "sessions": [{"course": "", "studio": "", "starts_at": ""}] * 2,
        "seats": [{"session": ""}, {"torch": "", **times}],
        "series": [{"course": "", "studio": "", "days": [], "time": ""}] * 2,
        "outages": [{"equipment": "", "reason": "new shelf", **times}],
        "refills": [{"supply": "", "at": ""}],
        "charges": [{"furnace": "", "starts_at": ""}],
        "calibrations": [{"equipment": "", "log": "", "file_name": "night.csv"}],
    }
    resource = case.operation.path.split("/")[2]
    for name in case.path_parameters or {}:
        case.path_parameters[name] = choose(st.sampled_from(real[resource]))
    if isinstance(case.body, dict) and resource in good:
        case.body = choose(st.sampled_from([*good[resource], case.body]))
    for part in (case.query or {}, case.body if isinstance(case.body, dict) else {}):
        for name in sorted(part.keys() & real.keys()):
            value = choose(st.sampled_from(real[name]))
            part[name] = [value] if isinstance(part[name], list) else value


def try_out(operation: Any, headers: dict[str, str], real: dict[str, list[Any]]) -> set[int]:
    """Send well-formed and malformed requests to one endpoint, each undone again; gives the statuses seen."""
    cases = operation.as_strategy(GenerationMode.POSITIVE) | operation.as_strategy(GenerationMode.NEGATIVE)
    seen: set[int] = set()

    @seed(1)
    @settings(
        max_examples=EXAMPLES,
        deadline=None,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=cases, data=st.data())
    def send(case: Any, data: Any) -> None:
        if case.meta.generation.mode.is_positive:
            fill_in(case, real, data.draw)
        with transaction.atomic():
            seen.add(case.call_and_validate(headers=headers, excluded_checks=UNFIT).status_code)
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
    with connection_kept():
        schema = schemathesis.openapi.from_wsgi("/api/schema?format=json", WSGIHandler())
        found = [result.ok() for result in schema.get_all_operations() if isinstance(result, Ok)]
        seen = {operation.label: try_out(operation, headers, real) for operation in found}

    assert len(seen) > 25
    # The requests were good enough to reach what they are for.
    assert {label for label in REACHED[who] if not seen[label] & {200, 201, 204}} == set()
