"""The day's round through the API: duties with their keys, ticks, and ticks taken back."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine

from scheduling.models import Session, Tick
from tests.faces.api.test_actuals import asks
from tests.services.test_booking import book, firing_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
TUESDAY = {"studio": "hot-shop", "day": "2031-03-04"}


@pytest.fixture
def session(town: Town) -> Iterator[Session]:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        found = book(town, "blowing", local(1, 18))
        clock.move_to(local(1, 17))
        yield found


def duties(town: Town, day: str = "2031-03-04") -> list[dict[str, Any]]:
    answer = asks(town.technician, "get", f"duties/?studio=hot-shop&day={day}")
    found: list[dict[str, Any]] = answer.json()["results"]
    return found


def ticking(town: Town, number: int, **more: Any) -> dict[str, Any]:
    return TUESDAY | {"duties": [part["key"] for part in duties(town)[number]["parts"]]} | more


@pytest.mark.usefixtures("session")
def test_the_duties_of_a_day_say_what_and_when_and_what_a_tick_records(town: Town) -> None:
    found = duties(town)

    assert [(each["does"], each["parts"][0]["name"], each["records"]) for each in found] == [
        ("switch on", "annealer 1", "lit"),
        ("light", "hole 1", None),
        ("light", "warmer 1", None),
        ("start the soak", "annealer 1", "soak-started"),
    ]
    assert not any(each["done"] for each in found)


def test_ticked_once_however_often_it_is_sent(town: Town, session: Session) -> None:
    body = ticking(town, 0, record=True, at=local(1, 16, 30).isoformat())

    first = asks(town.technician, "post", "ticks/", body, key="one")
    again = asks(town.technician, "post", "ticks/", body, key="one")
    other = asks(town.instructor, "post", "ticks/", body)

    assert (first.status_code, again.status_code, other.status_code) == (201, 201, 409)
    assert first.json() == again.json()
    assert first.json()["recorded"][0]["kind"] == "lit"
    assert firing_of(session).actuals.get().at == local(1, 16, 30)
    assert duties(town)[0]["ticks"][0]["ticked_by"]["name"] == "Technician"


@pytest.mark.usefixtures("session")
def test_taken_back_and_refused(town: Town) -> None:
    uid = asks(town.technician, "post", "ticks/", ticking(town, 1)).json()["ticks"][0]["uid"]

    back = asks(town.instructor, "post", f"ticks/{uid}/take-back/", {})
    twice = asks(town.instructor, "post", f"ticks/{uid}/take-back/", {})
    student = asks(town.student, "post", "ticks/", ticking(town, 1))
    nothing = asks(town.technician, "post", "ticks/", ticking(town, 1, record=True))

    assert (back.status_code, twice.status_code) == (200, 409)
    assert back.json()["taken_back_at"] == "2031-03-04T23:00:00Z"
    assert (student.status_code, nothing.status_code) == (403, 400)
    assert Tick.objects.count() == 1
