"""Booking a weekly class: its times, the weeks that spoil one, every meeting shown, all booked at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from scheduling.models import Booking, Series, Session
from scheduling.services.cancelling import cancel_session
from studios.models import Closure, Membership, Person
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import FIRST_MONDAY, Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
TUESDAYS = [str(FIRST_MONDAY + dt.timedelta(days=1 + 7 * week)) for week in range(6)]


def wish(**changes: Any) -> dict[str, Any]:
    """Blowing on four Tuesdays at six."""
    asked = {"course": "blowing", "studio": "hot-shop", "first_day": TUESDAYS[0], "weeks": 4, "time": "18:00"}
    return asked | changes


def address(**changes: Any) -> str:
    """The same wish as an address."""
    return "/book/weekly?" + "&".join(f"{name}={value}" for name, value in wish(**changes).items())


def days_of(page: Reader) -> list[str]:
    """The days that one click would book."""
    return [field["value"] for field in page.all("input", name="day")]


def left_out(page: Reader) -> list[str]:
    """The days whose box is ticked."""
    return [box["value"] for box in page.all("input", name="skip") if "checked" in box]


def test_every_meeting_is_shown_with_all_that_it_holds_before_anything_is_booked(
    town: Town, visit: Visits
) -> None:
    page = visit(town.instructor).get("/book/weekly", **wish())

    assert "18:00 works in all 4 weeks" in page.words
    assert days_of(page) == TUESDAYS[:4]
    for day in ("Tue 4 Mar", "Tue 11 Mar", "Tue 18 Mar", "Tue 25 Mar"):
        assert f"{day}, 18:00–21:00" in page.words
    for name in ("furnace", "hole 1", "bench 1", "warmer 1", "annealer 1"):
        assert page.words.count(name) >= 4
    assert not Booking.objects.exists()


def test_every_meeting_is_wished_to_be_over_by_some_time(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book/weekly", **wish(over_by="20:30"))

    assert "18:00 does not work in 4 of 4 weeks" in page.words
    assert "It was asked to be over by 20:30" in page.words
    assert "17:30" in page.words


def test_one_click_books_them_all(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post(address(), day=days_of(visitor.get("/book/weekly", **wish())))

    series = Series.objects.get()
    starts = [meeting.starts_at for meeting in series.sessions.order_by("starts_at")]
    assert starts == [local(1, 18), local(8, 18), local(15, 18), local(22, 18)]
    assert "blowing is booked: 4 meetings." in page.words
    assert "Part of a weekly class, 4 meetings: Tuesday, 18:00" in page.words


def test_a_session_leads_to_the_other_meetings_of_its_series(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)
    visitor.post(address(), day=TUESDAYS[:4])
    first, second, *_ = Session.objects.order_by("starts_at")
    cancel_session(actor=town.instructor, session=second)

    page = visitor.get(f"/sessions/{first.uid}")

    others = Session.objects.exclude(pk=first.pk)
    assert all(page.all("a", href=f"/sessions/{other.uid}") for other in others)
    assert "Tuesday 4 March 2031, 18:00, this one" in page.words
    assert "Tuesday 11 March 2031, 18:00 called off" in page.words


def test_the_weeks_that_spoil_a_time_are_said_with_why_and_can_be_left_out(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.instructor)

    page = visitor.get("/book/weekly", **wish())

    assert "18:00 does not work in 1 of 4 weeks, and this is why" in page.words
    assert "Tue 4 Mar, 18:00 Instructor has blowing from Tue 4 Mar 18:00" in page.words
    assert "Times that one week or two spoil" in page.words
    assert "but for Tue 4 Mar" in page.words
    assert days_of(page) == []

    (link,) = page.all("a", aria_label="Leave out Tue 4 Mar, 18:00 and meet a week longer")
    again = visitor.get(f"/book/weekly{link['href']}")
    assert left_out(again) == TUESDAYS[:1]
    assert days_of(again) == TUESDAYS[1:5]


def test_times_that_work_every_week_are_a_click_away(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.get("/book/weekly", **wish(time="03:00"))

    assert "03:00 does not work in 4 of 4 weeks" in page.words
    links = [link["href"] for link in page.all("a") if "time=" in link.get("href", "")]
    times = [link for link in links if "skip=" not in link]
    assert times
    for link in times:
        assert days_of(visitor.get(f"/book/weekly{link}")) == TUESDAYS[:4], link


def test_days_proposed_to_be_left_out_are_ticked_until_somebody_says_no(town: Town, visit: Visits) -> None:
    second = dt.date.fromisoformat(TUESDAYS[1])
    Closure.objects.create(studio=town.hot_shop, first_day=second, last_day=second, reason="fair")
    visitor = visit(town.instructor)

    page = visitor.get("/book/weekly", **wish())
    assert "Tue 11 Mar (closed: fair)" in page.words
    assert left_out(page) == [TUESDAYS[1]]
    assert days_of(page) == [TUESDAYS[0], *TUESDAYS[2:5]]

    (proposed,) = page.all("input", name="proposed")
    unticked = visitor.get("/book/weekly", **wish(proposed=proposed["value"]))
    assert left_out(unticked) == []
    assert "18:00 does not work in 1 of 4 weeks" in unticked.words

    elsewhere = visitor.get("/book/weekly", **wish(proposed=proposed["value"], weeks=3))
    assert left_out(elsewhere) == [TUESDAYS[1]]


def test_a_public_holiday_is_proposed_and_may_be_taught_all_the_same(town: Town, visit: Visits) -> None:
    town.hot_shop.holiday_country, town.hot_shop.holiday_region = "GB", "ENG"
    town.hot_shop.save()
    visitor = visit(town.instructor)
    mondays = wish(first_day="2031-04-07", weeks=2)

    page = visitor.get("/book/weekly", **mondays)
    (proposed,) = page.all("input", name="proposed")
    taught = visitor.get("/book/weekly", **mondays, proposed=proposed["value"])

    assert "Mon 14 Apr (Easter Monday)" in page.words
    assert days_of(page) == ["2031-04-07", "2031-04-21"]
    assert days_of(taught) == ["2031-04-07", "2031-04-14"]


def test_a_week_that_somebody_took_meanwhile_books_nothing(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)
    days = days_of(visitor.get("/book/weekly", **wish()))
    a_class(town)

    page = visitor.post(address(), day=days)

    assert visitor.status == 409
    assert "Nothing was booked, because of Tuesday 4 March" in page.words
    assert Session.objects.count() == 1


@pytest.mark.parametrize(
    "days",
    [
        [],
        ["tomorrow"],
        ["9999-12-31"],
        ["0001-01-01"],
        [TUESDAYS[0], "2031-03-05"],
        TUESDAYS[:1] * 60 + ["x"],
    ],
)
def test_forged_days_are_refused(town: Town, visit: Visits, days: list[str]) -> None:
    visitor = visit(town.instructor)

    visitor.post(address(), day=days)

    assert visitor.status == 409
    assert not Booking.objects.exists()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"weeks": 1}, "Choose between 2 and 52 meetings."),
        ({"weeks": 53}, "Choose between 2 and 52 meetings."),
        ({"weeks": ""}, "Choose between 2 and 52 meetings."),
        ({"first_day": ""}, "Choose the first day."),
        ({"time": "noon"}, "Choose a time."),
        ({"studio": "flame"}, "blowing is taught at Hot shop."),
        ({"course": ""}, "Choose a course."),
    ],
)
def test_a_wish_that_makes_no_sense_is_said_beside_its_field(
    town: Town, visit: Visits, changes: dict[str, Any], sentence: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.get("/book/weekly", **wish(**changes))

    assert visitor.status == 200
    assert sentence in page.words


def test_a_class_that_would_meet_beyond_the_book_is_refused_in_a_sentence(town: Town, visit: Visits) -> None:
    last = dt.date(2199, 12, 17)
    skipped = [str(last + dt.timedelta(weeks=week)) for week in range(1, 55)]

    page = visit(town.instructor).get("/book/weekly", **wish(first_day=last, skip=skipped))

    assert "The book goes from 2000 to 2200; choose a time in it." in page.words


def test_odd_days_to_leave_out_are_passed_over(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book/weekly", **wish(skip=["Tuesday", "2031-03-05", "2001-01-01"]))

    assert days_of(page) == TUESDAYS[:4]
    assert left_out(page) == []


def test_who_is_not_signed_off_is_told_so(town: Town, visit: Visits) -> None:
    town.instructor.qualifications.filter(kind="furnace").delete()

    page = visit(town.instructor).get("/book/weekly", **wish())

    assert "Instructor is not signed off for furnace at Hot shop" in page.words


def test_a_manager_books_for_an_instructor(town: Town, visit: Visits) -> None:
    visitor = visit(town.manager)

    visitor.post(address(instructor=town.other_instructor.uid), day=TUESDAYS[:2])

    assert Series.objects.get().instructor == town.other_instructor
    assert Series.objects.get().booked_by == town.manager


def test_where_nobody_teaches_a_manager_is_told_so(town: Town, visit: Visits) -> None:
    Membership.objects.filter(role="instructor").delete()

    page = visit(town.manager).get("/book/weekly", **wish())

    assert "Nobody teaches here yet: somebody needs the role instructor." in page.words


@pytest.mark.parametrize("who", ["student", "technician", "stranger"])
def test_others_do_not_book_classes(town: Town, visit: Visits, who: str) -> None:
    visitor = visit(getattr(town, who))

    page = visitor.get("/book/weekly", **wish())

    assert visitor.status == 403
    assert "Classes are booked by instructors and managers" in page.words
