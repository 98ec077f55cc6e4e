"""A request with an Idempotency-Key is carried out once, however often it is sent."""

from __future__ import annotations

import datetime as dt
import json
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
import time_machine
from django.db import OperationalError, connection, connections
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from rest_framework.authtoken.models import Token

from scheduling.api.operations import Operation
from scheduling.errors import KeyReused, NoSeatLeft, RequestRunning
from scheduling.models import FeedKey, RepeatedRequest, Session
from scheduling.services.repeats import ABANDONED_AFTER, KEPT, Answer, answer_once, digest_of, forget_old
from studios.models import Person, Role
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.faces.permissions.api import ROWS
from tests.faces.permissions.cast import MONDAY_NINE, Cast
from tests.faces.permissions.table import ANYBODY, Row, addresses
from tests.worlds import Town, build_town, local

KEY = {"Idempotency-Key": "9c7d-1"}


def test_a_repeated_booking_gets_the_same_answer_and_books_once(instructor: Api) -> None:
    first, second = (instructor.book(headers=KEY) for _ in range(2))

    assert (first.status_code, second.status_code) == (201, 201)
    assert first.json() == second.json()
    assert Session.objects.count() == 1


def test_a_repeated_refusal_stays_a_refusal(instructor: Api, town: Town, speak: Speak) -> None:
    uid = instructor.book().json()["uid"]
    other = speak(town.instructor)
    first = refused(other.book(headers=KEY), 409, "no-start")
    instructor.post(f"sessions/{uid}/cancel/")

    assert refused(other.book(headers=KEY), 409, "no-start") == first
    assert other.book(headers={"Idempotency-Key": "9c7d-2"}).status_code == 201


def test_bad_input_is_refused_again_in_the_same_way(instructor: Api) -> None:
    first, second = (rules(instructor.post("sessions/", course="blowing", headers=KEY)) for _ in range(2))

    assert first == second == {"studio": "required", "starts_at": "required"}


def test_one_key_names_one_request(instructor: Api) -> None:
    instructor.book(headers=KEY)

    refused(instructor.book(day=2, headers=KEY), 422, "idempotency-key-reused")
    refused(instructor.post("feed-keys/", label="phone", headers=KEY), 422, "idempotency-key-reused")
    assert Session.objects.count() == 1


def test_two_people_may_use_the_same_key(instructor: Api, student: Api) -> None:
    for api in (instructor, student):
        assert api.post("feed-keys/", label="phone", headers=KEY).status_code == 201

    assert FeedKey.objects.count() == 2


def test_cancelling_may_be_repeated(instructor: Api) -> None:
    uid = instructor.book().json()["uid"]

    first, second = (instructor.post(f"sessions/{uid}/cancel/", headers=KEY) for _ in range(2))

    assert (first.status_code, second.status_code) == (200, 200)
    assert first.json() == second.json()


def test_what_broke_is_not_kept(instructor: Api, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_: Any) -> Any:
        raise ZeroDivisionError

    with monkeypatch.context() as breaking:
        breaking.setattr("scheduling.api.views.sessions.book_session", broken)
        instructor.client.raise_request_exception = False
        refused(instructor.book(headers=KEY), 500, "server-error")

    assert instructor.book(headers=KEY).status_code == 201


def test_who_waited_too_long_for_a_turn_is_told_so_and_may_send_it_again(
    instructor: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(**_facts: Any) -> None:
        raise OperationalError("database is locked")

    with monkeypatch.context() as patched:
        patched.setattr("scheduling.api.views.sessions.book_session", locked)
        first = instructor.book(headers=KEY)

    assert int(first.headers["Retry-After"]) >= 5
    refused(first, 503, "too-busy")
    assert instructor.book(headers=KEY).status_code == 201


def test_an_answer_that_cannot_be_kept_leaves_no_booking(
    instructor: Api, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as breaking:
        breaking.setattr("scheduling.services.repeats._keep", lambda *_: 1 / 0)
        instructor.client.raise_request_exception = False
        refused(instructor.book(headers=KEY), 500, "server-error")

    assert not Session.objects.exists()


# Every unsafe call.


def unsafe() -> Iterator[tuple[str, str, Operation]]:
    """All that a program changes something with."""
    for address in addresses(("api/",)):
        for method, name in (getattr(address.view, "actions", None) or {}).items():
            if method in {"post", "put", "patch", "delete"}:
                yield address.name, method, getattr(address.view.cls, name).operation


def test_every_unsafe_call_may_be_repeated_but_signing_in() -> None:
    """Nobody is signed in yet whose key it could be; a token is the same each time it is asked for."""
    calls = list(unsafe())

    assert [name for name, _, operation in calls if not operation.repeatable] == ["api:token-list"]
    assert {"post", "delete"} <= {method for _, method, _ in calls}


UNSAFE = [row for row in ROWS if row.method != "GET" and row.by and ANYBODY not in row.by]


@pytest.mark.parametrize("row", UNSAFE, ids=str)
def test_each_of_them_is_answered_again_as_the_first_time(town: Town, row: Row) -> None:
    with time_machine.travel(MONDAY_NINE, tick=False):
        cast = Cast(town=town)
        person = next(cast.tries[role, row.at] for role in Role.values if row.allows(role, here=True))
        send = sender(row, cast, person)

        first, second = send(), send()

        assert first.status_code < 300, first.content
        assert (first.status_code, said(first)) == (second.status_code, said(second))
        refused(send("?another=1"), 422, "idempotency-key-reused")
        RepeatedRequest.objects.update(status_code=None, body=None)
        refused(send(), 409, "request-running")


def said(response: Any) -> Any:
    """What an answer says, in whatever order."""
    return json.loads(response.content) if response.content else None


def sender(row: Row, cast: Cast, person: Person) -> Callable[..., Any]:
    """Sends the same request each time; what comes after the address makes it another."""
    row.before(cast, person)
    address = reverse(row.name, kwargs=row.made(cast, person))
    sent = json.dumps(row.sent(cast, person), default=str)
    client = Client()
    client.force_login(person)
    return lambda more="": client.generic(row.method, address + more, sent, "application/json", headers=KEY)


def test_a_refusal_is_kept_whatever_it_is(instructor: Api, town: Town) -> None:
    """No such thing, not allowed, malformed: the same each time, though the world has moved on."""
    session = instructor.book().json()["uid"]
    calls = {
        404: lambda key: instructor.post(
            "sessions/00000000-0000-4000-8000-000000000000/cancel/", headers=key
        ),
        403: lambda key: instructor.book(day=3, instructor=str(town.other_instructor.uid), headers=key),
        400: lambda key: instructor.post("seats/", session=session, torch="x", headers=key),
    }

    for status, call in calls.items():
        key = {"Idempotency-Key": f"kept-{status}"}
        first, second = call(key), call(key)
        assert (first.status_code, said(first)) == (status, said(second))
        assert RepeatedRequest.objects.get(key=f"kept-{status}").status_code == status


def test_a_token_that_was_withdrawn_opens_nothing_also_not_an_answer_that_was_kept(town: Town) -> None:
    token = Token.objects.create(user=town.student)
    header = KEY | {"Authorization": f"Token {token.key}"}

    first, second = (Client().delete("/api/me/token/", headers=header) for _ in range(2))

    assert (first.status_code, second.status_code) == (204, 401)


def test_answers_are_forgotten_after_48_hours_also_where_the_clocks_change(town: Town) -> None:
    """From Saturday noon to Monday noon it is 47 hours: the clocks go forward on the Sunday."""
    with time_machine.travel(local(5, 12), tick=False) as clock:
        once(town.student)
        clock.move_to(local(7, 12))
        assert forget_old() == 0
        clock.shift(dt.timedelta(hours=1))
        assert forget_old() == 0
        clock.shift(dt.timedelta(seconds=1))
        assert forget_old() == 1


# The service by itself.


def once(person: Person, digest: str = "d", act: Any = None) -> Answer:
    def refuse(error: Exception) -> Answer:
        if not isinstance(error, NoSeatLeft):
            raise error
        return Answer(status_code=409, body=error.code)

    done = Answer(status_code=201, body={"made": True})
    return answer_once(person=person, key="k", digest=digest, act=act or (lambda: done), refuse=refuse)


def never() -> Answer:
    raise AssertionError("this was carried out twice")


def running_since(person: Person, started: dt.datetime) -> RepeatedRequest:
    return RepeatedRequest.objects.create(person=person, key="k", digest="d", created_at=started)


def test_while_the_first_runs_a_second_is_told_to_wait(town: Town) -> None:
    running_since(town.student, timezone.now() - ABANDONED_AFTER / 2)

    with pytest.raises(RequestRunning):
        once(town.student, act=never)


def test_what_was_interrupted_is_carried_out_by_the_next(town: Town) -> None:
    running_since(town.student, timezone.now() - ABANDONED_AFTER)

    assert once(town.student).status_code == 201
    assert once(town.student, act=never).status_code == 201


def test_an_interrupted_request_is_not_taken_over_by_another_one(town: Town) -> None:
    running_since(town.student, timezone.now() - ABANDONED_AFTER)

    with pytest.raises(KeyReused):
        once(town.student, digest="other", act=never)


def test_who_lost_the_claim_writes_nothing(town: Town) -> None:
    """Too slow: another copy took over meanwhile, so that this one's writing is undone."""

    def slow() -> Answer:
        FeedKey.objects.create(person=town.student)
        RepeatedRequest.objects.update(created_at=timezone.now() + dt.timedelta(minutes=6))
        return Answer(status_code=201, body=None)

    with pytest.raises(RequestRunning):
        once(town.student, act=slow)

    assert not FeedKey.objects.exists()


def test_a_key_is_free_again_after_two_days(town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        once(town.student)
        clock.shift(KEPT - dt.timedelta(minutes=1))
        once(town.student, act=never)
        clock.shift(dt.timedelta(minutes=2))

        assert once(town.student, digest="other").body == {"made": True}


def test_the_digest_tells_method_path_and_body_apart() -> None:
    same = digest_of(method="POST", path="/a", body=b"b")

    assert same == digest_of(method="POST", path="/a", body=b"b")
    others = [("POST", "/a", b"c"), ("POST", "/b", b"b"), ("PUT", "/a", b"b"), ("POST", "/", b"a\0b")]
    assert same not in {digest_of(method=method, path=path, body=body) for method, path, body in others}


@pytest.mark.django_db(transaction=True)
def test_copies_of_one_request_at_once_book_once() -> None:
    """Eight copies in eight threads: one books, and whoever is answered 201 is told of that one booking."""
    town, start = build_town(), threading.Barrier(8)

    def send(_: int) -> Any:
        api = Api()
        api.client.force_login(town.instructor)
        start.wait(timeout=20)
        try:
            return api.book(headers=KEY)
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as pool:
        responses = list(pool.map(send, range(8)))

    statuses = [response.status_code for response in responses]
    assert set(statuses) <= {201, 409}, [response.content for response in responses]
    assert 201 in statuses
    assert Session.objects.count() == 1
    assert {response.json()["uid"] for response in responses if response.status_code == 201} == {
        str(Session.objects.get().uid)
    }
    for response in responses:
        if response.status_code == 409:
            refused(response, 409, "request-running")


def test_the_claim_is_there_before_the_work_begins(town: Town) -> None:
    seen = []

    def look() -> Answer:
        seen.append(RepeatedRequest.objects.get(key="k").status_code)
        assert connection.in_atomic_block
        return Answer(status_code=201, body=None)

    once(town.student, act=look)

    assert seen == [None]
