"""The outbox through the API."""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.utils import timezone

from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.services.test_outbox import IN_AN_HOUR, failed, told
from tests.worlds import Town


@pytest.fixture
def manager(town: Town, speak: Speak) -> Api:
    return speak(town.manager)


def test_a_manager_lists_messages_by_how_far_they_are_without_their_text(town: Town, manager: Api) -> None:
    failed(town.student)
    told(town.instructor, "Booked: beads")

    everything = manager.get("messages/", studio="flame").json()
    (row,) = manager.get("messages/", state="failed").json()["results"]

    assert everything["count"] == 2
    assert row["person"]["email"] == "student@town.example"
    assert (row["subject"], row["tries"], row["last_error"]) == ("Your seat", 3, "OSError: away")
    assert "body" not in row
    assert rules(manager.get("messages/", state="lost")) == {"state": "invalid-choice"}


def test_a_message_names_what_it_asks_of_a_calendar_and_not_what_it_holds(town: Town, manager: Api) -> None:
    told(town.student, "Reserved: beads", method="REQUEST", invitation="BEGIN:VCALENDAR")
    told(town.student, "Your shelf")

    rows = manager.get("messages/").json()["results"]

    assert {row["subject"]: row["method"] for row in rows} == {"Reserved: beads": "REQUEST", "Your shelf": ""}
    assert not any("invitation" in row for row in rows)


def test_a_message_is_tried_again_once_however_often_it_is_asked(town: Town, manager: Api) -> None:
    message = failed(town.student)
    path, key = f"messages/{message.uid}/try-again/", {"Idempotency-Key": "once"}

    first = manager.post(path, headers=key)

    assert first.status_code == 200
    assert first.json()["next_try_at"] <= timezone.now().isoformat()
    assert manager.post(path, headers=key).json() == first.json()
    sending = told(town.student, "sending", claim=uuid4(), next_try_at=timezone.now() + IN_AN_HOUR)
    refused(manager.post(f"messages/{sending.uid}/try-again/"), 409, "over")


def test_all_of_a_studio_are_tried_again(town: Town, manager: Api) -> None:
    failed(town.student)
    failed(town.stranger)

    assert manager.post("messages/try-all-again/", studio="flame").json() == {"messages": 1}
    assert manager.post("messages/try-all-again/").json() == {"messages": 1}


@pytest.mark.parametrize("who", ["student", "instructor", "technician", "stranger"])
def test_nobody_else_looks_into_the_outbox(town: Town, speak: Speak, who: str) -> None:
    message, api = failed(town.student), speak(getattr(town, who))

    refused(api.get("messages/"), 403, "not-allowed")
    refused(api.post(f"messages/{message.uid}/try-again/"), 403, "not-allowed")
    refused(api.post("messages/try-all-again/"), 403, "not-allowed")


def test_a_strangers_message_is_not_there_for_a_manager(town: Town, manager: Api) -> None:
    message = failed(town.stranger)

    refused(manager.post(f"messages/{message.uid}/try-again/"), 404, "not-found")
