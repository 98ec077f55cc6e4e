"""The audit as a program reads it."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from scheduling.services import audit
from studios.models import Studio
from tests.faces.api.conftest import Api, Speak, refused
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager(town: Town, speak: Speak) -> Api:
    return speak(town.manager)


def test_an_entry_says_who_what_when_and_from_where(manager: Api, speak: Speak, town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        uid = speak(town.instructor).book().json()["uid"]

    found = manager.get("audit-entries/", studio="hot-shop").json()

    assert found["results"] == [
        {
            "at": "2031-03-03T15:00:00Z",
            "studio": "hot-shop",
            "time_zone": "America/Chicago",
            "actor": {"uid": str(town.instructor.uid), "name": "Instructor"},
            "face": "api",
            "did": "book",
            "kind": "session",
            "subject": uid,
            "said": "blowing at Hot shop, Tue 4 Mar 2031, 18:00 CST",
        }
    ]


def test_entries_are_found_by_studio_kind_subject_and_time(manager: Api, town: Town) -> None:
    acts: list[tuple[Studio, audit.Named]] = [
        (town.flame, town.student),
        (town.hot_shop, town.student),
        (town.flame, town.torches[0]),
    ]
    for day, (studio, subject) in enumerate(acts):
        with time_machine.travel(local(day, 9), tick=False):
            audit.note(actor=None, did="try", subject=subject, studio=studio, said=f"On day {day}")

    def said(**query: Any) -> list[str]:
        return [entry["said"] for entry in manager.get("audit-entries/", **query).json()["results"]]

    assert said() == ["On day 2", "On day 1", "On day 0"]
    assert said(studio="flame") == ["On day 2", "On day 0"]
    assert said(kind="equipment") == ["On day 2"]
    assert said(subject=str(town.student.uid)) == ["On day 1", "On day 0"]
    assert said(from_=local(1, 9).isoformat(), to=local(2, 9).isoformat()) == ["On day 1"]
    assert said(limit=1, offset=1) == ["On day 1"]


def test_it_is_the_manager_s_alone_and_only_read(
    instructor: Api, manager: Api, town: Town, speak: Speak
) -> None:
    refused(instructor.get("audit-entries/"), 403, "not-allowed")
    refused(speak(town.student).get("audit-entries/"), 403, "not-allowed")
    refused(manager.post("audit-entries/", said="Nothing"), 405, "method-not-allowed")
    refused(manager.get("audit-entries/", kind="Session;"), 400, "invalid-input")
