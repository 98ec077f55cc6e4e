"""A program that speaks to the API for one person."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client

from studios.models import Person
from tests.worlds import Town, local

PROBLEM = {"type", "title", "status", "detail", "instance", "code", "errors"}


@dataclass
class Api:
    """Speaks JSON; `client` is signed in with a session."""

    client: Client = field(default_factory=Client)

    def get(self, path: str, /, headers: Any = None, **query: Any) -> Any:
        names = {name.rstrip("_"): value for name, value in query.items()}
        return self.client.get(f"/api/{path}", names, headers=headers)

    def post(self, path: str, /, headers: Any = None, **body: Any) -> Any:
        return self.client.post(f"/api/{path}", body, content_type="application/json", headers=headers)

    def delete(self, path: str) -> Any:
        return self.client.delete(f"/api/{path}")

    def book(
        self, course: str = "blowing", studio: str = "hot-shop", day: int = 1, hour: int = 18, **more: Any
    ) -> Any:
        """Ask for a session on a day of the test calendar."""
        starts_at = local(day, hour).isoformat()
        return self.post("sessions/", course=course, studio=studio, starts_at=starts_at, **more)

    def bench(self, torch: Any, day: int = 1, hour: int = 12, hours: int = 1, **more: Any) -> Any:
        """Ask for a torch in open bench time."""
        times = {"starts_at": local(day, hour).isoformat(), "ends_at": local(day, hour + hours).isoformat()}
        return self.post("seats/", torch=str(torch.uid), **times, **more)


Speak = Callable[[Person], Api]


@pytest.fixture
def speak() -> Speak:
    """The API as one person uses it."""

    def as_person(person: Person) -> Api:
        api = Api()
        api.client.force_login(person)
        return api

    return as_person


@pytest.fixture
def instructor(town: Town, speak: Speak) -> Api:
    return speak(town.instructor)


@pytest.fixture
def student(town: Town, speak: Speak) -> Api:
    return speak(town.student)


@pytest.fixture
def technician(town: Town, speak: Speak) -> Api:
    return speak(town.technician)


@pytest.fixture(autouse=True)
def _nobody_has_tried_yet() -> None:
    """Attempts to sign in are counted in the cache."""
    cache.clear()


def refused(response: Any, status: int, code: str, field: str | None = None) -> dict[str, Any]:
    """Assert that a response is a whole problem of this kind about this field; give it back."""
    assert response.headers["Content-Type"] == "application/problem+json", response.content
    problem: dict[str, Any] = response.json()
    assert (response.status_code, problem["code"]) == (status, code), problem
    assert problem.keys() >= PROBLEM
    assert problem["status"] == status
    assert problem["detail"]
    assert problem["instance"] == response.request["PATH_INFO"]
    if field is not None:
        assert [error["field"] for error in problem["errors"]] == [field], problem
    return problem


def rules(response: Any) -> dict[str, str]:
    """The fields at fault with the rules they break, of a malformed request."""
    problem = refused(response, 400, "invalid-input")
    return {error["field"]: error["code"] for error in problem["errors"]}
