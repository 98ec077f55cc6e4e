"""Looking for a start through the API: as wished with what would open it, at its best, and every week."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from studios.models import Closure
from tests.faces.api.conftest import Api, Speak, refused, rules
from tests.worlds import Town

BLOWING = {"course": "blowing", "studio": "hot-shop"}
WEEK = {**BLOWING, "first_day": "2031-03-03", "last_day": "2031-03-09"}
TUESDAYS = {**BLOWING, "first_day": "2031-03-04", "weeks": 4}


def offers(api: Api, **changes: Any) -> list[dict[str, Any]]:
    response = api.get("best-starts/", **{**WEEK, **changes})
    assert response.status_code == 200, response.content
    return list(response.json()["offers"])


def weekly(api: Api, **changes: Any) -> dict[str, Any]:
    response = api.get("weekly-times/", **{**TUESDAYS, **changes})
    assert response.status_code == 200, response.content
    return dict(response.json())


def test_the_earliest_start_of_each_day_with_all_that_it_holds(instructor: Api) -> None:
    found = offers(instructor)

    starts = [offer["option"]["starts_at"] for offer in found]
    assert len(starts) == 7
    assert starts == sorted(starts)
    assert {held["equipment"]["name"] for held in found[0]["option"]["held"]} == {
        "furnace",
        "hole 1",
        "bench 1",
        "warmer 1",
        "annealer 1",
    }
    assert (found[0]["measured"], found[0]["words"]) == (0.0, "")


@pytest.mark.parametrize(
    ("order", "words"),
    [
        ("attended", " held while nobody is there"),
        ("warm", " of heating up"),
        ("energy", "kWh"),
        ("travel", "min on the way"),
    ],
)
def test_the_best_come_first_by_what_counts(instructor: Api, order: str, words: str) -> None:
    found = offers(instructor, order=order)

    measured = [offer["measured"] for offer in found]
    assert len(found) == 7
    assert measured == sorted(measured)
    assert all(offer["words"].endswith(words) for offer in found)


def test_the_nearest_to_a_wished_time(instructor: Api) -> None:
    instructor.book()

    found = offers(instructor, order="nearest", time="18:00")

    assert [offer["measured"] for offer in found][:6] == [0.0] * 6
    assert found[-1]["option"]["starts_at"].startswith("2031-03-04")
    assert found[-1]["measured"] == 180
    assert found[-1]["words"] == "3 h from the wished time"


def test_every_start_that_is_offered_can_be_booked(instructor: Api) -> None:
    for offer in offers(instructor, order="energy", most=3):
        body = {**BLOWING, "starts_at": offer["option"]["starts_at"]}
        assert instructor.post("sessions/", **body).status_code == 201


@pytest.mark.parametrize(
    ("changes", "broken"),
    [
        ({"order": "nearest"}, {"time": "required"}),
        ({"order": "cheapest"}, {"order": "invalid-choice"}),
        ({"last_day": "2031-06-03"}, {"last_day": "too-long"}),
        ({"last_day": "2031-03-02"}, {"last_day": "end-after-start"}),
        ({"most": 51}, {"most": "max-value"}),
        ({"studio": "flame"}, {"studio": "not-taught-there"}),
    ],
)
def test_a_question_that_makes_no_sense_is_refused(
    instructor: Api, changes: dict[str, Any], broken: dict[str, str]
) -> None:
    assert rules(instructor.get("best-starts/", **{**WEEK, **changes})) == broken


def test_ninety_two_days_are_searched(instructor: Api) -> None:
    assert len(offers(instructor, last_day="2031-06-02", most=50)) == 50


def test_a_class_that_is_wished_to_be_over_by_eight(instructor: Api) -> None:
    found = offers(instructor, order="nearest", time="18:00", over_by="20:00", last_day="2031-03-04")
    times = weekly(instructor, over_by="20:00")["times"]
    asked = {**WEEK, "last_day": "2031-03-03", "time": "18:00", "over_by": "20:00"}
    (refused_one,) = instructor.get("options/", **asked).json()["refused"]

    assert {offer["option"]["ends_at"] for offer in found} == {"2031-03-04T02:00:00Z", "2031-03-05T02:00:00Z"}
    assert times[-1]["last"] == "17:00"
    assert [reason["code"] for reason in refused_one["reasons"]] == ["too-late"]
    assert rules(instructor.get("best-starts/", **{**WEEK, "over_by": "eight"})) == {"over_by": "invalid"}


def test_a_refused_start_shows_what_would_open_it(instructor: Api) -> None:
    instructor.book()
    asked = {**WEEK, "first_day": "2031-03-04", "last_day": "2031-03-04", "time": "18:00"}

    (no,) = instructor.get("options/", **asked).json()["refused"]

    assert {opening["change"] for opening in no["openings"]} >= {"time"}
    later = [opening for opening in no["openings"] if opening["option"] == no["nearest"]]
    assert [opening["change"] for opening in later] == ["time"]
    assert "later" in later[0]["sentence"]


def test_a_weekly_class_has_times_that_work_every_week(instructor: Api) -> None:
    found = weekly(instructor, time="18:00")

    assert found["days"] == ["2031-03-04", "2031-03-11", "2031-03-18", "2031-03-25"]
    assert any(times["first"] <= "18:00" <= times["last"] for times in found["times"])
    assert [meeting["starts_at"] for meeting in found["meetings"]][:2] == [
        "2031-03-05T00:00:00Z",
        "2031-03-11T23:00:00Z",  # the clocks have changed; it is six in the evening all the same
    ]
    assert (found["refused"], found["spoilt"]) == ([], [])


def test_the_week_that_spoils_a_time_is_named_with_its_reason(instructor: Api) -> None:
    instructor.book(day=8)

    found = weekly(instructor, time="18:00")

    spoilt = [times for times in found["spoilt"] if times["first"] <= "18:00" <= times["last"]]
    assert [times["spoilt_by"] for times in spoilt] == [["2031-03-11"]]
    assert len(found["meetings"]) == 3
    assert "Instructor has blowing" in found["refused"][0]["reasons"][0]["sentence"]


def test_a_skipped_week_adds_one_at_the_end_and_closed_days_are_proposed(instructor: Api, town: Town) -> None:
    second = dt.date(2031, 3, 11)
    Closure.objects.create(studio=town.hot_shop, first_day=second, last_day=second, reason="fair")

    assert weekly(instructor)["times"] == []
    found = weekly(instructor, skip="2031-03-11")

    assert found["days"] == ["2031-03-04", "2031-03-18", "2031-03-25", "2031-04-01"]
    assert found["proposed_skips"] == [{"day": "2031-03-11", "reason": "closed: fair"}]
    assert found["times"]


@pytest.mark.parametrize(
    ("changes", "broken"),
    [
        ({"weeks": 0}, {"weeks": "min-value"}),
        ({"weeks": 53}, {"weeks": "max-value"}),
        ({"studio": "flame"}, {"studio": "not-taught-there"}),
        ({"skip": "Tuesday"}, {"skip.0": "invalid"}),
    ],
)
def test_a_weekly_question_that_makes_no_sense_is_refused(
    instructor: Api, changes: dict[str, Any], broken: dict[str, str]
) -> None:
    assert rules(instructor.get("weekly-times/", **{**TUESDAYS, **changes})) == broken


@pytest.mark.parametrize("path", ["best-starts/", "weekly-times/"])
@pytest.mark.parametrize("who", ["student", "technician"])
def test_who_may_not_book_does_not_look_for_starts(town: Town, speak: Speak, path: str, who: str) -> None:
    asked = WEEK if path == "best-starts/" else TUESDAYS

    refused(speak(getattr(town, who)).get(path, **asked), 403, "not-allowed", "studio")


def test_who_is_not_signed_off_is_told_so(instructor: Api, town: Town) -> None:
    town.instructor.qualifications.filter(kind="furnace").delete()

    for path, asked in (("best-starts/", WEEK), ("weekly-times/", TUESDAYS)):
        refused(instructor.get(path, **asked), 403, "not-qualified", "instructor")
