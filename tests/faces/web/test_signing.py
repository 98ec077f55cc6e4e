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


@pytest.mark.parametrize(
    ("who", "first"), [("student", "/my-seats"), ("instructor", "/"), ("technician", "/"), ("manager", "/")]
)
def test_a_student_begins_with_what_comes_next_the_others_with_the_sheet(
    town: Town, visit: Visits, who: str, first: str
) -> None:
    visitor = visit(None)

    visitor.post("/sign-in", username=town.people[who].email, password="glass")

    assert visitor.last == first


def test_signing_out_is_a_button_and_no_link(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    visitor.get("/sign-out")

    assert visitor.status == 405
    assert "Sign in" in visitor.post("/sign-out").words


@pytest.mark.parametrize("path", ["/", "/book", "/torches", "/my-seats", "/calendars"])
def test_every_page_asks_for_a_sign_in(db: None, visit: Visits, path: str) -> None:
    assert visit(None).get(path).all("input", name="password")


def test_the_cautions_are_open_to_everybody(db: None, visit: Visits) -> None:
    page = visit(None).get("/cautions")

    assert "Oxygen and fuel gas" in page.words
    assert not page.all("input", name="password")
    assert not page.all("nav", aria_label="Pages")


def test_who_leaves_a_field_empty_is_told_which(db: None, visit: Visits) -> None:
    page = visit(None).post("/sign-in", username="", password="")

    assert "Write your e-mail address." in page.words
    assert "Write your password." in page.words
