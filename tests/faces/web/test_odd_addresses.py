"""What nobody types by hand, such as null characters and far years: a sentence answers, never a 500."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from scheduling.models import FeedKey, Seat, Session
from studios.models import Person
from tests.faces.web.bookings import WEEK, a_class
from tests.faces.web.conftest import Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]

NUL = "\0"
WISH = {
    "course": "blowing",
    "studios": ["hot-shop"],
    "instructor": "",
    "first_day": "2031-03-04",
    "last_day": "2031-03-05",
    "time": "18:00",
}
WEEKLY = {
    "course": "blowing",
    "studio": "hot-shop",
    "instructor": "",
    "first_day": "2031-03-04",
    "weeks": "2",
    "time": "18:00",
}
HOURS = {"studio": "flame", "day": "2031-03-05", "starts": "12:00", "ends": "14:00"}


@pytest.mark.parametrize("name", ["week", "day", "to", "studio"])
def test_a_null_character_in_the_sheet_s_address(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.student)

    page = visitor.get("/", **{"week": WEEK} | {name: f"flame{NUL}"})

    assert visitor.status == (404 if name == "studio" else 200)
    assert name in {"studio", "week"} or "is no week or day" in page.words


@pytest.mark.parametrize("name", list(WISH))
def test_a_null_character_in_a_wish_for_a_class(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.manager)
    wish: dict[str, Any] = WISH | {name: NUL}

    page = visitor.get("/book", **wish)

    assert visitor.status == 200
    assert page.all("div", class_="error"), name


@pytest.mark.parametrize("name", ["order", *WISH])
def test_a_null_character_in_a_wish_by_what_counts(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.manager)
    wish: dict[str, Any] = WISH | {"order": "energy", name: NUL}

    page = visitor.get("/book", **wish)

    assert visitor.status == 200
    assert page.all("div", class_="error"), name


@pytest.mark.parametrize("name", list(WEEKLY))
def test_a_null_character_in_a_wish_for_a_weekly_class(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.manager)
    wish: dict[str, Any] = WEEKLY | {name: NUL}

    page = visitor.get("/book/weekly", **wish)

    assert visitor.status == 200
    assert page.all("div", class_="error"), name


@pytest.mark.parametrize("odd", [NUL, "\ud7ff", "flame 0001-01-01 2", "9" * 400, "-1"])
@pytest.mark.parametrize("name", ["skip", "proposed"])
def test_odd_days_to_leave_out_change_nothing(town: Town, visit: Visits, name: str, odd: str) -> None:
    visitor = visit(town.instructor)
    asked: dict[str, Any] = {**WEEKLY, "instructor": town.instructor.uid, name: odd}

    page = visitor.get("/book/weekly", **asked)

    assert visitor.status == 200
    assert [field["value"] for field in page.all("input", name="day")] == ["2031-03-04", "2031-03-11"]


@pytest.mark.parametrize("name", ["studio", "starts_at"])
def test_a_null_character_in_the_start_chosen(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.instructor)
    chosen = {"studio": "hot-shop", "starts_at": "2031-03-05T00:00:00+00:00"} | {name: NUL}

    visitor.post(
        "/book?course=blowing&studios=hot-shop&first_day=2031-03-04&last_day=2031-03-05&time=18:00", **chosen
    )

    assert visitor.status == 409
    assert not Session.objects.exists()


@pytest.mark.parametrize("name", list(HOURS))
def test_a_null_character_in_the_hours_at_the_torch(town: Town, visit: Visits, name: str) -> None:
    visitor = visit(town.student)

    shown = visitor.get("/torches", **HOURS | {name: NUL})
    assert visitor.status == 200
    assert shown.all("div", class_="error")

    visitor.post("/torches", **HOURS | {name: NUL}, torch=town.torches[0].uid)
    assert visitor.status == 409
    assert not Seat.objects.exists()


def test_a_null_character_where_only_the_studio_is_asked_for(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    shown = visitor.get("/torches", studio=NUL)
    assert visitor.status == 200
    assert shown.all("option", value="flame", selected="")

    visitor.post("/torches", studio=NUL, torch=NUL)
    assert visitor.status in {404, 409}


@pytest.mark.parametrize("name", ["torch", "person"])
def test_a_null_character_for_a_seat_in_a_class(town: Town, visit: Visits, name: str) -> None:
    session = a_class(town, "beads")
    visitor = visit(town.manager)

    visitor.post(f"/sessions/{session.uid}/seat", **{name: NUL})

    assert visitor.status == 409
    assert not Seat.objects.exists()


def test_a_null_character_in_a_calendar_link_s_name_and_at_the_sign_in(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    visitor.post("/calendars", label=f"my{NUL}phone")
    assert visitor.status == 400
    assert not FeedKey.objects.exists()

    nobody = visit(None)
    nobody.post("/sign-in", username=f"a{NUL}@town.example", password=NUL)
    assert nobody.status == 200


def test_a_null_character_in_a_path_leads_nowhere(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    for path in (
        "/sessions/%00",
        "/sessions/%00/seat",
        "/firings/%00",
        "/my-seats/%00/give-back",
        "/calendar-links/%00/withdraw",
        "/calendars/%00.ics",
        "/calendars/week/2031-W%00.ics",
    ):
        visitor.get(path)
        assert visitor.status == 404, path


@pytest.mark.parametrize("day", ["0001-01-01", "1999-12-31", "2201-01-01", "9999-12-31"])
def test_days_outside_the_book_are_said_beside_their_field(town: Town, visit: Visits, day: str) -> None:
    wish = {name: value for name, value in WISH.items() if value}
    booker, sitter = visit(town.instructor), visit(town.student)

    for page in (
        booker.get("/book", **wish | {"first_day": day, "last_day": day}),
        booker.get("/book", **wish | {"first_day": day}),
        booker.get("/book", **wish | {"last_day": day}),
        sitter.get("/torches", **HOURS | {"day": day}),
        sitter.post("/torches", **HOURS | {"day": day}, torch=town.torches[0].uid),
    ):
        assert "A day lies between 2000-01-03 and 2199-12-20." in page.words
        assert page.all("div", class_="error")
    assert (booker.status, sitter.status) == (200, 409)


@pytest.mark.parametrize("day", ["2000-01-03", "2199-12-20"])
def test_the_first_and_the_last_day_of_the_book_can_be_asked_for(town: Town, visit: Visits, day: str) -> None:
    wish = {name: value for name, value in WISH.items() if value} | {"first_day": day, "last_day": day}
    visitor = visit(town.instructor)

    assert visitor.get("/book", **wish).all("div", id="answers")
    assert visitor.get("/torches", **HOURS | {"day": day}).all("div", class_="bench-plan")
    assert visitor.get("/", day=day).all("section", class_="studio")
