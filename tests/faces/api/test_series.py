"""Weekly classes through the API."""

from __future__ import annotations

from typing import Any

import pytest

from scheduling.models import Booking, Series, Session
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town

DAYS = ["2031-03-04", "2031-03-11", "2031-03-18"]
WEEKLY = {"course": "blowing", "studio": "hot-shop", "days": DAYS, "time": "18:00"}


def book(api: Api, headers: Any = None, **changes: Any) -> Any:
    return api.post("series/", headers=headers, **{**WEEKLY, **changes})


def test_an_instructor_books_three_tuesdays(instructor: Api, student: Api) -> None:
    response = book(instructor)

    assert response.status_code == 201
    series = response.json()
    assert (series["course"], series["first_day"], series["time"]) == ("blowing", "2031-03-04", "18:00")
    assert [meeting["starts_at"][:10] for meeting in series["meetings"]] == [
        "2031-03-05",  # six in the evening is midnight UTC before the clocks change, and 23:00 after
        "2031-03-11",
        "2031-03-18",
    ]
    assert series == instructor.get(f"series/{series['uid']}/").json()
    assert series == student.get("series/").json()["results"][0]


def test_each_session_says_which_series_it_belongs_to(instructor: Api) -> None:
    single = instructor.book(day=2).json()
    series = book(instructor).json()

    found = instructor.get("sessions/").json()["results"]

    assert single["series"] is None
    assert {session["uid"]: session["series"] for session in found} == {
        single["uid"]: None,
        **{meeting["uid"]: series["uid"] for meeting in series["meetings"]},
    }


def test_a_week_that_is_taken_books_nothing_and_is_named(instructor: Api) -> None:
    instructor.book(day=8)

    problem = refused(book(instructor), 409, "series-spoilt", "days")

    assert "Tuesday 11 March" in problem["detail"]
    assert problem["reasons"][0]["code"]
    assert Session.objects.count() == 1
    assert not Series.objects.exists()


def test_the_same_request_twice_books_once(instructor: Api) -> None:
    key = {"Idempotency-Key": "six-tuesdays"}

    first, second = book(instructor, headers=key), book(instructor, headers=key)

    assert (first.status_code, first.json()) == (second.status_code, second.json())
    assert Series.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "broken"),
    [
        ({"days": []}, {"days": "min-length"}),
        ({"days": ["2031-03-04"] * 53}, {"days": "max-length"}),
        ({"days": ["2031-03-04", "2031-03-05"]}, {"days": "invalid-input"}),
        ({"time": "24:00"}, {"time": "invalid"}),
    ],
)
def test_a_series_that_makes_no_sense_is_refused(
    instructor: Api, changes: dict[str, Any], broken: dict[str, str]
) -> None:
    assert rules(book(instructor, **changes)) == broken
    assert not Booking.objects.exists()


@pytest.mark.parametrize("who", ["student", "technician", "other_instructor"])
def test_who_may_not_book_the_class_books_no_series(town: Town, speak: Speak, who: str) -> None:
    asked = {"instructor": str(town.instructor.uid)}

    refused(book(speak(getattr(town, who)), **asked), 403, "not-allowed", "instructor")
    assert not Booking.objects.exists()


def test_a_stranger_sees_no_series(instructor: Api, speak: Speak, town: Town) -> None:
    uid = book(instructor).json()["uid"]
    stranger = speak(town.stranger)

    refused(stranger.get(f"series/{uid}/"), 404, "not-found")
    assert stranger.get("series/").json()["results"] == []
    assert instructor.get("series/", studio="flame").json()["results"] == []
    assert len(instructor.get("series/", instructor=str(town.instructor.uid)).json()["results"]) == 1


def test_a_weekly_class_is_called_off_as_a_whole_once(instructor: Api) -> None:
    uid = book(instructor).json()["uid"]

    gone = instructor.post(f"series/{uid}/cancel/")

    assert gone.status_code == 200
    assert [meeting["status"] for meeting in gone.json()["meetings"]] == ["cancelled"] * 3
    refused(instructor.post(f"series/{uid}/cancel/"), 409, "over")


@pytest.mark.parametrize(
    ("who", "status"), [("student", 403), ("other_instructor", 403), ("stranger", 404), ("manager", 200)]
)
def test_who_calls_a_weekly_class_off(
    instructor: Api, speak: Speak, town: Town, who: str, status: int
) -> None:
    uid = book(instructor).json()["uid"]

    assert speak(getattr(town, who)).post(f"series/{uid}/cancel/").status_code == status
