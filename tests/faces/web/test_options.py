"""What an option shows: strips, until when what is held, its rank, its teacher's day; what is asked first."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from scheduling.models import Course, Session
from scheduling.selectors.options import wishes
from studios.models import Person
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Reader, Visit
from tests.faces.web.test_booking import wish
from tests.worlds import KILN, Town, add_equipment, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def asked_for(page: Reader, name: str) -> str:
    return page.all("input", name=name)[0]["value"]


def test_each_piece_has_one_strip_and_says_until_when_it_is_held(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book", **wish(last_day="2031-03-04"))

    assert len(page.all("svg", class_="held-strip")) == 5
    assert "furnace, place 1 from 18:00 until 21:00" in page.words
    assert re.search(r"hole 1 from 1[67]:\d\d, in use until 21:00, cold at ", page.words)
    assert re.search(r"annealer 1 from 1\d:\d\d; .*the door opens Wed 5 Mar, ", page.words)
    assert "The last of it is free again on Wed 5 Mar, " in page.words


def test_torches_that_are_held_alike_share_one_strip(town: Town, visit: Visits) -> None:
    beads = wish(course="beads", studios=["flame"], last_day="2031-03-04")

    page = visit(town.instructor).get("/book", **beads)

    assert "torch 1, torch 2, torch 3, torch 4, torch 5 from 17:55 until 21:05" in page.words
    assert len(page.all("svg", class_="held-strip")) == 2


def test_a_place_says_why_it_is_that_one(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.instructor)

    by_day = visitor.get("/book", **wish(first_day="2031-03-04", last_day="2031-03-07"))
    by_wish = visitor.get("/book", **wish(last_day="2031-03-06", order="nearest"))

    assert "The first of these days on which 18:00 works. Wed 5 Mar" in by_day.words
    assert "2 days later. Fri 7 Mar" in by_day.words
    assert "0 min from the wished time Exactly at the wished time. Wed 5 Mar" in by_wish.words
    assert "As good as the one before it. Thu 6 Mar" in by_wish.words
    assert "3 h from the wished time 3 h more than the first. Tue 4 Mar" in by_wish.words


def test_two_studios_stand_side_by_side_with_what_their_teacher_has_that_day(
    town: Town, visit: Visits
) -> None:
    add_equipment(town, town.hot_shop, "kiln", "spare kiln", capacity_cm2=3000, body=KILN)
    add_equipment(town, town.hot_shop, "cold-station", "spare saw")
    town.courses["tiles"].studios.add(town.hot_shop)
    a_class(town, "beads", local(2, 12))
    a_class(town, "blowing", local(2, 21, 0) - dt.timedelta(hours=1))
    both = wish(course="tiles", studios=["flame", "hot-shop"], first_day="2031-03-05", time="16:00")

    page = visit(town.instructor).get("/book", **both)

    assert "2 starts that work" in page.words
    assert "From Flame to Hot shop it is 30 min." in page.words
    assert "Before it beads, here until 15:00: 1 h between." in page.words
    assert "Before it beads at Flame until 15:00: 30 min on the way leave 30 min." in page.words
    assert "After it blowing at Hot shop from 20:00: 30 min on the way leave 1 h 30 min." in page.words
    assert "After it blowing, here from 20:00: 2 h between." in page.words


def test_what_was_booked_last_is_asked_for_at_once_on_the_coming_days(town: Town, visit: Visits) -> None:
    a_class(town, starts_at=local(1, 10))
    with time_machine.travel(local(2, 12), tick=False):
        page = visit(town.instructor).get("/book")

    assert page.all("option", value="blowing", selected="")
    assert (asked_for(page, "first_day"), asked_for(page, "last_day")) == ("2031-03-06", "2031-03-26")
    assert asked_for(page, "time") == "10:00"
    assert "21 starts that work" in page.words
    assert "15 more starts" in page.words


def test_who_has_booked_nothing_yet_is_asked_for_a_course_only(town: Town, visit: Visits) -> None:
    page = visit(town.instructor).get("/book")

    assert "Choose a course: all your studios are asked" in page.words
    assert all("checked" in box for box in page.all("input", name="studios"))
    assert not page.all("input", name="starts_at")

    Course.objects.all().delete()
    assert "No course is taught at your studios yet." in visit(town.instructor).get("/book").words


@pytest.mark.parametrize(
    ("asked", "first", "last"),
    [
        ({"day": "2031-03-04"}, "2031-03-04", "2031-03-04"),
        ({"day": "2031-03-03", "days": "7"}, "2031-03-06", "2031-03-09"),
        ({"day": "2031-03-10", "days": "7"}, "2031-03-10", "2031-03-16"),
        ({"day": "2031-02-03", "days": "7"}, "2031-02-09", "2031-02-09"),
        ({"day": "someday"}, "2031-03-06", "2031-03-26"),
        ({"day": "2231-03-10"}, "2031-03-06", "2031-03-26"),
    ],
)
def test_the_sheet_leads_to_its_own_days(
    town: Town, visit: Visits, asked: dict[str, str], first: str, last: str
) -> None:
    a_class(town)
    with time_machine.travel(local(2, 12), tick=False):
        page = visit(town.instructor).get("/book", **asked)

    assert (asked_for(page, "first_day"), asked_for(page, "last_day")) == (first, last)


def test_a_studio_that_does_not_teach_the_last_course_asks_for_another(town: Town, visit: Visits) -> None:
    a_class(town)

    page = visit(town.instructor).get("/book", studio="flame")

    assert not page.all("option", selected="", value="blowing")
    assert [box["value"] for box in page.all("input", name="studios") if "checked" in box] == ["flame"]


def test_a_start_asked_for_at_once_is_booked_by_one_click(town: Town, visit: Visits) -> None:
    a_class(town)
    visitor = visit(town.instructor)
    page = visitor.get("/book", day="2031-03-05")
    form = next(each for each in page.all("form", method="post") if "/book?" in each.get("action", ""))

    visitor.post(form["action"], studio="hot-shop", starts_at=asked_for(page, "starts_at"))

    assert sorted(Session.objects.values_list("starts_at", flat=True)) == [local(1, 18), local(2, 18)]


def test_a_wish_for_one_class_becomes_a_wish_for_every_week(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)
    both = wish(studios=["flame", "hot-shop"])

    once = visitor.get("/book", **both)
    weekly = visitor.get("/book/weekly", **both)
    by_option = next(
        a["href"]
        for a in once.all("a")
        if "/book/weekly?course" in a.get("href", "") and "studio=hot" in a["href"]
    )

    assert "18:00 works in all 6 weeks" in weekly.words
    assert weekly.all("option", value="hot-shop", selected="")
    assert "18:00 works in all 6 weeks" in visitor.get(by_option).words


def test_every_week_is_asked_for_as_the_last_class_was(town: Town, visit: Visits) -> None:
    a_class(town)
    with time_machine.travel(local(2, 12), tick=False):
        page = visit(town.instructor).get("/book/weekly")

    assert asked_for(page, "first_day") == "2031-03-11"
    assert "18:00 works in all 6 weeks" in page.words


def test_all_weeks_that_spoil_a_time_are_left_out_by_one_click(town: Town, visit: Visits) -> None:
    for week in (0, 2):
        a_class(town, starts_at=local(1 + 7 * week, 18))
    visitor = visit(town.instructor)
    asked = {
        "course": "blowing",
        "studio": "hot-shop",
        "first_day": "2031-03-04",
        "weeks": 4,
        "time": "18:00",
    }

    page = visitor.get("/book/weekly", **asked)
    href = next(a["href"] for a in page.all("a") if a.get("href", "").count("skip=") == 2)

    assert "Leave all 2 out and meet as many weeks longer" in page.words
    assert "18:00 works in all 4 weeks" in visitor.get(f"/book/weekly{href}").words


def test_a_move_shows_the_same_strips(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    works = visitor.get(f"/sessions/{session.uid}/move", day="2031-03-05", time="18:00")
    refused = visitor.get(f"/sessions/{session.uid}/move", day="2031-03-05", time="22:00")

    assert len(works.all("svg", class_="held-strip")) == 5
    assert "the door opens Thu 6 Mar" in works.words
    assert "The nearest starts" in refused.words
    assert len(refused.all("svg", class_="held-strip")) == 10


def test_more_days_take_no_more_queries(town: Town) -> None:
    for day in range(1, 15):
        a_class(town, starts_at=local(day, 18))

    def queries(days: int) -> int:
        with CaptureQueriesContext(
            connection,
        ) as made:
            wishes(
                course=town.courses["blowing"],
                studios=[town.hot_shop],
                instructor=town.other_instructor,
                first_day=dt.date(2031, 3, 4),
                last_day=dt.date(2031, 3, 3) + dt.timedelta(days=days),
                time=dt.time(18),
            )
        return len(made)

    assert queries(2) == queries(12)
