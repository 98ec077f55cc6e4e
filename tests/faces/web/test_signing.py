"""Signing in and out."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from studios.models import Person
from tests.faces.web.conftest import Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_somebody_not_signed_in_is_asked_to_and_comes_back(town: Town, visit: Visits) -> None:
    visitor = visit(None)

    asked = visitor.get("/torches")
    page = visitor.post("/sign-in?next=/torches", username="Student@Town.example", password="glass")

    assert asked.all("input", name="next", value="/torches")
    assert page.all("a", href="/torches", aria_current="page")


def test_a_wrong_password_is_refused_in_a_sentence_and_the_address_stays(town: Town, visit: Visits) -> None:
    page = visit(None).post("/sign-in", username="student@town.example", password="brass")

    assert "E-mail and password do not belong together" in page.words
    assert page.all("input", name="username", value="student@town.example")


def test_signing_out_is_a_button_and_no_link(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    visitor.get("/sign-out")

    assert visitor.status == 405
    assert "Sign in" in visitor.post("/sign-out").words


@pytest.mark.parametrize("path", ["/", "/book", "/torches", "/my-seats", "/calendars", "/cautions"])
def test_every_page_asks_for_a_sign_in(db: None, visit: Visits, path: str) -> None:
    assert visit(None).get(path).all("input", name="password")
