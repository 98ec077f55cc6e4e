"""Wall clocks and elapsed time, against recorded changes of clocks in three zones."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from scheduling.engine import clock
from scheduling.errors import NaiveTime, NoSuchWallTime

CASES = json.loads((Path(__file__).parents[2] / "fixtures" / "clock_changes.json").read_text())
RUNS: list[dict[str, Any]] = CASES["runs"]
CHICAGO, LORD_HOWE = ZoneInfo("America/Chicago"), ZoneInfo("Australia/Lord_Howe")


def named(case: dict[str, Any]) -> str:
    return f"{case['tzid']} {case['start_local']}"


def minute_of(utc: str) -> int:
    return clock.floor_minutes(dt.datetime.fromisoformat(utc))


def by_wall(local: str, tzid: str) -> int:
    wall = dt.datetime.fromisoformat(local)
    return clock.wall_minutes(wall.date(), wall.time(), ZoneInfo(tzid))


def with_pass(local: str, fold: int, tzid: str) -> dt.datetime:
    return dt.datetime.fromisoformat(local).replace(tzinfo=ZoneInfo(tzid), fold=fold)


def test_the_cases_are_all_there() -> None:
    assert len(RUNS) == 39
    assert sum(not run["start_exists"] for run in RUNS) == 8
    assert len(CASES["ends"]) == 6


@pytest.mark.parametrize("run", RUNS, ids=named)
def test_a_night_has_its_elapsed_hours(run: dict[str, Any]) -> None:
    start = clock.floor_minutes(with_pass(run["start_local"], run["start_fold"], run["tzid"]))
    end = clock.ceil_minutes(with_pass(run["end_local"], run["end_fold"], run["tzid"]))

    assert (start, end) == (minute_of(run["start_utc"]), minute_of(run["end_utc"]))
    assert end - start == run["elapsed_hours"] * 60


@pytest.mark.parametrize("run", [run for run in RUNS if run["start_exists"]], ids=named)
def test_a_minute_shows_the_wall_time_it_came_from(run: dict[str, Any]) -> None:
    zone = ZoneInfo(run["tzid"])
    for end in ("start", "end"):
        shown = clock.local(minute_of(run[f"{end}_utc"]), zone)
        assert shown.replace(tzinfo=None).isoformat(timespec="minutes") == run[f"{end}_local"]
        assert shown.fold == run[f"{end}_fold"]


@pytest.mark.parametrize("run", [run for run in RUNS if run["end_fold"] == 0], ids=named)
def test_a_wall_time_is_its_first_pass(run: dict[str, Any]) -> None:
    assert by_wall(run["end_local"], run["tzid"]) == minute_of(run["end_utc"])


@pytest.mark.parametrize("run", [run for run in RUNS if run["end_fold"] == 1], ids=named)
def test_the_second_pass_of_a_doubled_time_is_later(run: dict[str, Any]) -> None:
    repeated = 30 if run["tzid"] == "Australia/Lord_Howe" else 60
    assert by_wall(run["end_local"], run["tzid"]) == minute_of(run["end_utc"]) - repeated


@pytest.mark.parametrize("run", [run for run in RUNS if not run["start_exists"]], ids=named)
def test_a_wall_time_that_the_clocks_jump_over_is_refused_with_the_next(run: dict[str, Any]) -> None:
    jump_ends = "02:30" if run["tzid"] == "Australia/Lord_Howe" else "03:00"

    with pytest.raises(NoSuchWallTime) as refused:
        by_wall(run["start_local"], run["tzid"])

    assert refused.value.facts["next"] == f"{run['start_local'][:10]} {jump_ends}"


@pytest.mark.parametrize("case", CASES["ends"], ids=named)
def test_twelve_hours_from_an_evening_end_where_the_clocks_say(case: dict[str, Any]) -> None:
    end = by_wall(case["start_local"], case["tzid"]) + case["elapsed_hours"] * 60

    shown = clock.local(end, ZoneInfo(case["tzid"])).replace(tzinfo=None)
    assert shown.isoformat(timespec="minutes") == case["end_local"]
    assert shown.isoformat(timespec="minutes") != case["wrong_end_if_wall_added"]


def test_staffed_hours_that_open_in_the_jump_open_at_its_end() -> None:
    day = dt.date(2027, 3, 14)
    assert clock.edge_minutes(day, dt.time(2, 30), CHICAGO) == minute_of("2027-03-14T08:00Z")
    start, end = clock.day_span(day, dt.time(0), dt.time(0), CHICAGO)
    assert end - start == 23 * 60


def test_ends_are_rounded_up_and_starts_down() -> None:
    within = dt.datetime(2027, 3, 9, 18, 0, 1, tzinfo=dt.UTC)
    sharp = within.replace(second=0)
    assert clock.floor_minutes(within) == clock.floor_minutes(sharp) == clock.ceil_minutes(sharp)
    assert clock.ceil_minutes(within) == clock.floor_minutes(sharp) + 1
    assert clock.moment(clock.ceil_minutes(within)) == sharp + clock.MINUTE


@pytest.mark.parametrize("reading", [clock.floor_minutes, clock.ceil_minutes])
def test_a_time_without_a_zone_is_refused(reading: Any) -> None:
    with pytest.raises(NaiveTime):
        reading(dt.datetime(2027, 3, 9, 18, 0))  # noqa: DTZ001  (that is the case)


def test_the_local_days_that_a_night_touches() -> None:
    evening = by_wall("2027-04-03T20:00", "Australia/Lord_Howe")
    midnight = by_wall("2027-04-04T00:00", "Australia/Lord_Howe")
    third, fourth = dt.date(2027, 4, 3), dt.date(2027, 4, 4)
    assert list(clock.days(evening, midnight, LORD_HOWE)) == [third]
    assert list(clock.days(evening, midnight + 1, LORD_HOWE)) == [third, fourth]
