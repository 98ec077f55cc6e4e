"""Recording what happened, and handing pieces back, through the API."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client

from scheduling.models import Collection, Firing, PickUp, Session
from studios.models import Person
from tests.services.test_booking import book, firing_of
from tests.services.test_pick_up import sits
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def firing(town: Town) -> Iterator[Firing]:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        session = book(town, "blowing", local(1, 18))
        sits(session, town.student, 1)
        clock.move_to(local(2, 12))
        yield firing_of(session)


def asks(person: Person, method: str, path: str, body: Any = None, key: str | None = None) -> Any:
    client = Client()
    client.force_login(person)
    headers = {"Idempotency-Key": key} if key else {}
    sent = {"data": body, "content_type": "application/json"} if body is not None else {}
    return getattr(client, method)(f"/api/{path}", headers=headers, **sent)


def reading(firing: Firing, read_c: float = 120.0) -> dict[str, Any]:
    at = local(2, 10, 30).isoformat()
    return {"firing": str(firing.uid), "kind": "temperature", "at": at, "read_c": read_c}


def test_recorded_once_however_often_it_is_sent(town: Town, firing: Firing) -> None:
    first = asks(town.technician, "post", "actuals/", reading(firing), key="one")
    again = asks(town.technician, "post", "actuals/", reading(firing), key="one")

    assert first.status_code == again.status_code == 201
    assert first.json() == again.json()
    assert first.json()["actual"]["read_c"] == 120.0
    listed = asks(town.student, "get", f"actuals/?firing={firing.uid}").json()
    assert [each["kind"] for each in listed["results"]] == ["temperature"]
    assert listed["results"][0]["recorded_by"] is None


def test_struck_and_refused(town: Town, firing: Firing) -> None:
    uid = asks(town.technician, "post", "actuals/", reading(firing)).json()["actual"]["uid"]

    struck = asks(town.manager, "post", f"actuals/{uid}/strike/", {})
    twice = asks(town.manager, "post", f"actuals/{uid}/strike/", {})
    student = asks(town.student, "post", "actuals/", reading(firing))
    hot = asks(town.technician, "post", "actuals/", reading(firing, 2000.0))

    assert (struck.status_code, twice.status_code) == (200, 409)
    assert struck.json()["actual"]["struck_at"] == "2031-03-05T18:00:00Z"
    assert (student.status_code, hot.status_code) == (403, 400)


def test_unloaded_shelved_collected(town: Town, firing: Firing) -> None:
    session = str(Session.objects.get().uid)
    body = {"firing": str(firing.uid), "shelves": [{"session": session, "shelf": "shelf 3"}]}

    out = asks(town.technician, "post", "pick-ups/", body)
    mine = asks(town.student, "get", "collections/").json()["results"]
    others = asks(town.other_student, "get", "collections/").json()["results"]
    marked = asks(town.technician, "post", f"collections/{mine[0]['uid']}/mark/", {"collected": True})

    assert out.status_code == 204
    assert PickUp.objects.get().shelf == "shelf 3"
    assert mine[0]["pick_up"]["shelf"] == "shelf 3"
    assert others == []
    assert marked.json()["collected_at"] == "2031-03-05T18:00:00Z"
    assert Collection.objects.get().noted_by == town.technician


def test_a_shelf_for_what_is_not_in_it_is_refused(town: Town, firing: Firing) -> None:
    body = {"firing": str(firing.uid), "shelves": [{"session": str(firing.uid), "shelf": "shelf 3"}]}

    refused = asks(town.technician, "post", "pick-ups/", body)

    assert refused.status_code == 400
    assert not PickUp.objects.exists()


def test_what_it_breaks_is_listed_with_the_nearest_repair(town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        firing = firing_of(book(town, "blowing", local(1, 18)))
        town.equipment["annealer 2"].active = False
        town.equipment["annealer 2"].save()
        after = book(town, "blowing", local(2, 18), town.other_instructor)
        clock.move_to(local(2, 15))
        at = local(2, 14, 50).isoformat()
        asks(town.technician, "post", "actuals/", reading(firing, 300.0) | {"at": at})

        found = asks(town.technician, "get", f"firings/{firing.uid}/breaks/").json()
        refused = asks(town.student, "get", f"firings/{firing.uid}/breaks/")

    assert [each["session"] for each in found["bookings"]] == [str(after.uid)]
    assert "is cool at Thu 6 Mar" in found["bookings"][0]["why"]
    assert found["bookings"][0]["repair"]["starts_at"] is not None
    assert refused.status_code == 403
