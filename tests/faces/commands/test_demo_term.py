"""The demo's term lies ahead and crosses a change of clocks, on whatever day it is loaded."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.management.demo.files import read
from scheduling.management.demo.loading import zone
from scheduling.management.demo.term import Term, next_change, term_around

CHICAGO = ZoneInfo("America/Chicago")
SUNDAY = 6
DAYS = st.dates(min_value=dt.date(2026, 1, 1), max_value=dt.date(2029, 1, 1))


def changes_by_law(year: int) -> tuple[dt.date, dt.date]:
    """The second Sunday of March and the first Sunday of November (15 U.S.C. 260a, as amended in 2005)."""
    march, november = dt.date(year, 3, 1), dt.date(year, 11, 1)
    first_sundays = (day + dt.timedelta(days=SUNDAY - day.weekday()) for day in (march, november))
    spring, autumn = first_sundays
    return spring + dt.timedelta(weeks=1), autumn


def test_the_town_lives_by_the_clocks_of_chicago() -> None:
    assert zone() == CHICAGO


@given(day=DAYS)
def test_the_next_change_of_clocks_is_the_one_the_law_names(day: dt.date) -> None:
    lawful = [change for year in (day.year, day.year + 1) for change in changes_by_law(year)]

    assert next_change(CHICAGO, day) == min(change for change in lawful if change >= day)


@given(today=DAYS)
def test_the_term_begins_after_today_and_crosses_the_change_in_its_eighth_week(today: dt.date) -> None:
    rule = read("term")

    change = next_change(zone(), today + dt.timedelta(weeks=rule["weeks_ahead"]))
    term = term_around(change, rule["week_of_the_change"])

    assert rule["weeks"] == 14
    assert term.monday.weekday() == 0
    assert today < term.monday
    assert change == term.day(8, "sunday")
    assert dt.timedelta(weeks=8) <= change - today < dt.timedelta(weeks=43)


@given(today=DAYS)
def test_six_in_the_evening_stays_six_in_the_evening_on_both_sides_of_the_change(today: dt.date) -> None:
    term = term_around(next_change(CHICAGO, today), 8)

    before, after = (term.moment(week, "monday", dt.time(18), CHICAGO) for week in (8, 9))

    assert {moment.astimezone(CHICAGO).hour for moment in (before, after)} == {18}
    assert abs((after - before) - dt.timedelta(weeks=1)) == dt.timedelta(hours=1)


def test_weeks_are_counted_from_one() -> None:
    term = Term(monday=dt.date(2027, 1, 18))

    assert term.day(1, "monday") == dt.date(2027, 1, 18)
    assert term.day(8, "sunday") == dt.date(2027, 3, 14)


def test_a_zone_without_changes_has_no_such_term() -> None:
    with pytest.raises(ValueError, match="do not change"):
        next_change(ZoneInfo("UTC"), dt.date(2027, 1, 1))
