"""Booking a class: a wish, the starts that work, the reasons of those that do not, one booked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from scheduling.models import Session
from studios.models import Membership, Person, Studio
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def wish(**changes: Any) -> dict[str, Any]:
    """A blowing class on Tuesday or Wednesday at six."""
    asked = {
        "course": "blowing",
        "studios": ["hot-shop"],
        "first_day": "2031-03-04",
        "last_day": "2031-03-05",
        "time": "18:00",
    }
    return asked | changes


def address(**changes: Any) -> str:
    """The same wish as an address."""
    asked = wish(**changes)
    return "/book?" + "&".join(
        f"{name}={one}"
        for name, value in asked.items()
        for one in (value if isinstance(value, list) else [value])
    )


def test_an_instructor_finds_starts_with_everything_they_hold(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book", **wish())

    assert "2 starts that work" in page.words
    assert "Tue 4 Mar, 18:00–21:00 at Hot shop" in page.words
    for name in ("furnace", "hole 1", "bench 1", "warmer 1", "annealer 1"):
        assert name in page.words
    assert not Session.objects.exists()


def test_one_click_books_one_of_them(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).post(address(), studio="hot-shop", starts_at=local(1, 18).isoformat())

    session = Session.objects.get()
    assert (session.instructor, session.starts_at) == (town.instructor, local(1, 18))
    assert "blowing is booked." in page.words
    assert "Where the pieces go annealer 1: anneal" in page.words


def test_what_does_not_work_comes_with_its_reason_and_the_nearest_start(town: Town, visit: Visits) -> None:
    a_class(town)

    page = visit(town.instructor).get("/book", **wish(last_day="2031-03-04"))

    assert "None of these days works at that time" in page.words
    assert "Tue 4 Mar, 18:00 at Hot shop Instructor has blowing from Tue 4 Mar 18:00" in page.words
    assert "The first start after that works:" in page.words


def test_days_refused_for_the_same_reason_stand_together(town: Town, visit: Visits) -> None:
    town.instructor.qualifications.filter(kind="furnace").delete()

    page = visit(town.instructor).get("/book", **wish())

    assert "Tue 4 Mar, 18:00 · Wed 5 Mar, 18:00 at Hot shop" in page.words
    assert len(page.all("li", class_="refused")) == 1


def test_a_start_that_somebody_took_meanwhile_is_refused_and_the_wish_stays(
    town: Town, visit: Visits
) -> None:
    a_class(town)
    visitor = visit(town.instructor)

    page = visitor.post(address(), studio="hot-shop", starts_at=local(1, 18).isoformat())

    assert visitor.status == 409
    assert page.all("div", class_="refusal", role="alert")
    assert page.all("option", value="blowing", selected="")
    assert Session.objects.count() == 1


def test_an_hour_that_the_clocks_jump_over_is_named(town: Town, visit: Visits) -> None:
    asked = wish(first_day="2031-03-09", last_day="2031-03-09", time="02:30")

    page = visit(town.instructor).get("/book", **asked)

    assert "2031-03-09 02:30 does not exist in America/Chicago" in page.words
    assert "2031-03-09 03:00" in page.words
    assert "No such hour on Sun 9 Mar at Hot shop" in page.words


def test_the_clocks_are_named_once_where_studios_share_them(town: Town, visit: Visits) -> None:
    both = wish(studios=["hot-shop", "flame"])

    shared = visit(town.instructor).get("/book", **both)
    Studio.objects.filter(pk=town.flame.pk).update(time_zone="America/Denver")
    apart = visit(town.instructor).get("/book", **both)

    assert shared.words.count("by the clocks of") == 1
    assert "Flame: times by the clocks of America/Denver." in apart.words
    assert "Hot shop: times by the clocks of America/Chicago." in apart.words


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"last_day": "2031-03-01"}, "The last day must not be before the first."),
        ({"last_day": "2031-06-01"}, "Ask for at most 31 days at once."),
        ({"studios": ["flame"]}, "blowing is taught at Hot shop."),
        ({"first_day": "0001-01-01"}, "A day lies between 2000-01-03 and 2199-12-20."),
        ({"course": "juggling"}, "Choose a course."),
        ({"course": ""}, "Choose a course."),
        ({"studios": []}, "Choose a studio."),
        ({"first_day": ""}, "Choose the first day."),
        ({"time": ""}, "Choose a time."),
    ],
)
def test_a_wish_that_makes_no_sense_is_said_beside_its_field(
    town: Town, visit: Visits, changes: dict[str, Any], sentence: str
) -> None:
    page = visit(town.instructor).get("/book", **wish(**changes))

    assert sentence in page.words
    assert page.all("div", class_="error")


def test_a_forged_start_or_studio_is_refused(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    for fields in (
        {"studio": "hot-shop", "starts_at": "tomorrow"},
        {"studio": "hot-shop", "starts_at": "2031-03-04T18:00"},
        {"studio": "flame", "starts_at": local(1, 18).isoformat()},
    ):
        visitor.post(address(), **fields)
        assert visitor.status == 409
    assert not Session.objects.exists()


def test_a_manager_books_for_an_instructor(town: Town, visit: Visits) -> None:
    visitor = visit(town.manager)
    shown = visitor.get("/book")

    visitor.post(
        address(instructor=town.other_instructor.uid),
        studio="hot-shop",
        starts_at=local(1, 18).isoformat(),
    )

    assert shown.all("select", name="instructor")
    assert Session.objects.get().instructor == town.other_instructor


def test_an_instructor_is_not_asked_who_teaches(town: Town, visit: Visits) -> None:
    assert not visit(town.instructor).get("/book").all("select", name="instructor")


@pytest.mark.parametrize("who", ["student", "technician", "stranger"])
def test_others_do_not_book_classes(town: Town, visit: Visits, who: str) -> None:
    visitor = visit(getattr(town, who))

    page = visitor.get("/book")

    assert visitor.status == 403
    assert "Classes are booked by instructors and managers" in page.words
    assert not visitor.get("/").all("a", href="/book")


def test_only_studios_where_one_may_book_are_offered(town: Town, visit: Visits) -> None:
    Membership.objects.filter(person=town.instructor, studio=town.flame).update(role="student")

    page = visit(town.instructor).get("/book")

    assert [box["value"] for box in page.all("input", name="studios")] == ["hot-shop"]


@pytest.mark.parametrize(
    "start",
    [
        "9999-12-31T23:59:00+00:00",
        "9999-12-31T23:59:00-23:59",
        "0001-01-01T00:00:00+23:59",
        "0001-01-01T00:00:00+00:00",
        "1999-12-31T12:00:00+00:00",
        "2201-01-01T12:00:00+00:00",
    ],
)
def test_a_start_outside_the_book_s_years_is_refused_in_a_sentence(
    town: Town, visit: Visits, start: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.post(address(), studio="hot-shop", starts_at=start)

    assert visitor.status == 409
    assert "The book goes from 2000 to 2200; choose a time in it." in page.words
    assert not Session.objects.exists()


def test_a_start_without_its_wish_is_asked_for_again(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/book", studio="hot-shop", starts_at=local(1, 18).isoformat())

    assert visitor.status == 409
    assert "The wish could not be read any more; ask again." in page.words
    assert page.all("button", id="find")
    assert not Session.objects.exists()


def test_where_nobody_teaches_a_manager_is_told_so(town: Town, visit: Visits) -> None:
    Membership.objects.filter(role="instructor").delete()
    visitor = visit(town.manager)

    page = visitor.get("/book", **wish())
    assert visitor.status == 200
    assert "Nobody teaches at Flame or Hot shop yet: somebody needs the role instructor there." in page.words

    visitor.post(address(), studio="hot-shop", starts_at=local(1, 18).isoformat())
    assert visitor.status == 409
    assert not Session.objects.exists()
