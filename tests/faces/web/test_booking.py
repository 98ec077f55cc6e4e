"""Booking a class: a wish, the starts that work, the reasons of those that do not, one booked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from scheduling.models import Outage, Session
from scheduling.services.seats import reserve_bench_torch
from studios.models import Membership, Person, Studio
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Visit
from tests.worlds import KILN, Town, add_equipment, local

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


def test_a_class_is_wished_to_be_over_by_some_time(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book", **wish(over_by="20:30", order="nearest"))

    assert "Tue 4 Mar, 17:30–20:30 at Hot shop" in page.words
    assert "It was asked to be over by 20:30; blowing would go on until Tue 4 Mar 21:00." in page.words


def test_what_does_not_work_comes_with_its_reason_and_all_that_would_open_it(
    town: Town, visit: Visits
) -> None:
    a_class(town)
    visitor = visit(town.instructor)
    asked = {"last_day": "2031-03-04"}

    page = visitor.get("/book", **wish(**asked))

    assert "None of these days works at that time" in page.words
    assert "Tue 4 Mar, 18:00 at Hot shop Instructor has blowing from Tue 4 Mar 18:00" in page.words
    assert "What would open it" in page.words
    assert "earlier, at Tue 4 Mar" in page.words
    assert "later, at" in page.words
    offered = [field["value"] for field in page.all("input", name="starts_at")]
    assert len(offered) == 2
    for starts_at in offered:
        visitor.post(address(**asked), studio="hot-shop", starts_at=starts_at)
    assert Session.objects.count() == 3


def test_a_change_that_no_click_can_make_is_said_with_what_it_takes(town: Town, visit: Visits) -> None:
    sitting = (town.student, town.other_student, town.technician, town.instructor)
    for person, torch in zip(sitting, town.torches, strict=False):
        reserve_bench_torch(actor=person, torch=torch, starts_at=local(1, 18), ends_at=local(1, 20))

    page = visit(town.other_instructor).get(
        "/book", **wish(course="beads", studios=["flame"], last_day="2031-03-04")
    )

    assert "With 1 of the 5 torches it works. That takes a course with fewer torches." in page.words
    changes = page.all("span", class_="to-change")
    assert len(page.all("input", name="starts_at")) == len(page.all("li", class_="opening")) - len(changes)


def test_the_same_start_at_another_studio_is_one_click_away(town: Town, visit: Visits) -> None:
    add_equipment(town, town.hot_shop, "kiln", "spare kiln", capacity_cm2=3000, body=KILN)
    add_equipment(town, town.hot_shop, "cold-station", "spare saw")
    town.courses["tiles"].studios.add(town.hot_shop)
    Outage.objects.create(
        equipment=town.equipment["kiln"], starts_at=local(0, 8), ends_at=local(2, 8), reason="new shelf"
    )
    asked = {"course": "tiles", "studios": ["flame", "hot-shop"], "last_day": "2031-03-04"}
    visitor = visit(town.instructor)

    page = visitor.get("/book", **wish(**asked))
    visitor.post(address(**asked), studio="hot-shop", starts_at=local(1, 18).isoformat())

    assert "At Hot shop the same start works." in page.words
    assert Session.objects.get().studio == town.hot_shop


@pytest.mark.parametrize(
    ("order", "heading", "words"),
    [
        ("earliest", "2 best starts: earliest", ""),
        ("nearest", "2 best starts: nearest to the wish", "0 min from the wished time"),
        ("attended", "2 best starts: least held while nobody is there", " held while nobody is there"),
        ("warm", "2 best starts: least heating up", " of heating up"),
        ("energy", "2 best starts: least energy", "kWh"),
        ("travel", "2 best starts: least travel", "min on the way"),
    ],
)
def test_the_best_start_of_each_day_by_what_counts(
    town: Town, visit: Visits, order: str, heading: str, words: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.get("/book", **wish(order=order))

    assert heading in page.words
    assert words in page.words
    best = page.all("input", name="starts_at")[0]["value"]
    visitor.post(address(order=order), studio="hot-shop", starts_at=best)
    assert Session.objects.get().starts_at == dt.datetime.fromisoformat(best)


def test_what_counts_does_not_hide_the_days_that_the_wished_time_does_not_work(
    town: Town, visit: Visits
) -> None:
    a_class(town)

    page = visit(town.instructor).get("/book", **wish(order="energy"))

    assert "Days on which 18:00 does not work, and why" in page.words
    assert "Instructor has blowing from Tue 4 Mar 18:00" in page.words


def test_days_refused_for_the_same_reason_stand_together(town: Town, visit: Visits) -> None:
    town.instructor.qualifications.filter(kind="furnace").delete()

    page = visit(town.instructor).get("/book", **wish())

    assert "Tue 4 Mar, 18:00 · Wed 5 Mar, 18:00 at Hot shop" in page.words
    assert len(page.all("div", class_="refused")) == 1


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
        ({"order": "cheapest"}, "Choose what counts."),
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
