"""The rules of time zones that a file carries, expanded by dateutil and compared with the IANA data."""

from __future__ import annotations

import datetime as dt
import io
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz  # type: ignore[import-untyped]  # published without types
from icalendar import Component, Timezone

from scheduling.ical.text_form import written
from scheduling.ical.timezones import changes, vtimezone

FIRST_YEAR, LAST_YEAR = 2025, 2030
TWO_RULES = [
    "America/Chicago",
    "America/New_York",
    "America/St_Johns",
    "America/Havana",
    "America/Santiago",
    "Asia/Jerusalem",
    "Asia/Beirut",
    "Australia/Lord_Howe",
    "Australia/Sydney",
    "Antarctica/Troll",
    "Europe/Dublin",
    "Europe/Lisbon",
    "Europe/Prague",
    "Pacific/Auckland",
    "Pacific/Chatham",
    "Pacific/Easter",
]
NO_CHANGE = ["UTC", "Asia/Kolkata", "Asia/Kathmandu", "America/Phoenix", "Asia/Tokyo", "Pacific/Kiritimati"]
# A week that runs over the end of a month; a fast that moves through the year.
OTHERS = ["Africa/Cairo", "Africa/Casablanca", "Asia/Gaza", "America/Nuuk", "America/Scoresbysund"]
EVERY = [*TWO_RULES, *NO_CHANGE, *OTHERS]


def rules_of(key: str) -> Component:
    return read_rules(key, FIRST_YEAR, LAST_YEAR)


def read_rules(key: str, first_year: int, last_year: int) -> Component:
    """The component as icalendar reads it from the file."""
    return Timezone.from_ical(written(vtimezone(key, first_year=first_year, last_year=last_year)))


def line(component: Component, name: str) -> str:
    """The value of a property as it stands in the file."""
    lines = dict(line.split(":", 1) for line in component.to_ical().decode().splitlines())
    return lines[name]


def expanded(component: Component) -> dt.tzinfo:
    """The zone as dateutil understands the component, which reads onsets by the offset before."""
    zone = tz.tzical(io.StringIO(component.to_ical().decode())).get()
    assert zone is not None
    return zone


def instants(key: str) -> list[dt.datetime]:
    """Each day at noon, and both sides of every change of clocks."""
    start = dt.datetime(FIRST_YEAR, 1, 1, 12, tzinfo=dt.UTC)
    daily = [start + dt.timedelta(days=day) for day in range(365 * (LAST_YEAR - FIRST_YEAR + 1))]
    around = [
        (change.onset - change.offset_from).replace(tzinfo=dt.UTC) + dt.timedelta(seconds=seconds)
        for change in changes(ZoneInfo(key), FIRST_YEAR, LAST_YEAR)
        for seconds in (-1, 0)
    ]
    return daily + around


@pytest.mark.parametrize("key", EVERY)
def test_every_instant_has_the_offset_of_the_zone(key: str) -> None:
    zone, iana = expanded(rules_of(key)), ZoneInfo(key)

    wrong = [
        instant
        for instant in instants(key)
        if instant.astimezone(zone).utcoffset() != instant.astimezone(iana).utcoffset()
    ]

    assert wrong == []


@pytest.mark.parametrize("key", TWO_RULES)
def test_a_zone_with_yearly_changes_is_two_rules(key: str) -> None:
    assert len(list(changes(ZoneInfo(key), FIRST_YEAR, LAST_YEAR))) == 2 * (LAST_YEAR - FIRST_YEAR + 1)
    observances = rules_of(key).subcomponents

    assert {observance.name for observance in observances} == {"DAYLIGHT", "STANDARD"}
    assert len(observances) == 2
    assert all("RRULE" in observance and "RDATE" not in observance for observance in observances)


@pytest.mark.parametrize("key", NO_CHANGE)
def test_a_zone_without_changes_is_one_standard_time(key: str) -> None:
    (standard,) = rules_of(key).subcomponents
    assert standard.name == "STANDARD"
    assert line(standard, "TZOFFSETFROM") == line(standard, "TZOFFSETTO")
    assert "RRULE" not in standard


@pytest.mark.parametrize(
    ("key", "daylight", "standard"),
    [
        (
            "America/Chicago",
            ("20240310T020000", "-0600", "-0500", "FREQ=YEARLY;BYDAY=2SU;BYMONTH=3"),
            ("20241103T020000", "-0500", "-0600", "FREQ=YEARLY;BYDAY=1SU;BYMONTH=11"),
        ),
        (
            "Europe/Prague",
            ("20240331T020000", "+0100", "+0200", "FREQ=YEARLY;BYDAY=-1SU;BYMONTH=3"),
            ("20241027T030000", "+0200", "+0100", "FREQ=YEARLY;BYDAY=-1SU;BYMONTH=10"),
        ),
        (
            "Australia/Lord_Howe",
            ("20241006T020000", "+1030", "+1100", "FREQ=YEARLY;BYDAY=1SU;BYMONTH=10"),
            ("20240407T020000", "+1100", "+1030", "FREQ=YEARLY;BYDAY=1SU;BYMONTH=4"),
        ),
    ],
)
def test_an_onset_is_the_wall_time_before_the_change(
    key: str, daylight: tuple[str, ...], standard: tuple[str, ...]
) -> None:
    names = ("DTSTART", "TZOFFSETFROM", "TZOFFSETTO", "RRULE")
    written = {
        observance.name: tuple(line(observance, name) for name in names)
        for observance in rules_of(key).subcomponents
    }
    assert written == {"DAYLIGHT": daylight, "STANDARD": standard}


def test_changes_that_follow_no_rule_stand_one_by_one() -> None:
    observances = rules_of("Africa/Casablanca").subcomponents
    assert len(observances) == len(list(changes(ZoneInfo("Africa/Casablanca"), FIRST_YEAR - 1, LAST_YEAR)))
    assert not any("RRULE" in observance or "RDATE" in observance for observance in observances)


def test_a_week_over_the_end_of_a_month_is_two_rules() -> None:
    """Egypt goes back on the Friday after the last Thursday of October, which may be 1 November."""
    observances = rules_of("Africa/Cairo").subcomponents
    assert {line(each, "RRULE") for each in observances if each.name == "STANDARD"} == {
        "FREQ=YEARLY;BYDAY=FR;BYMONTHDAY=26,27,28,29,30,31;BYMONTH=10",
        "FREQ=YEARLY;BYDAY=FR;BYMONTHDAY=1;BYMONTH=11",
    }


def test_a_zone_that_gave_up_its_changes_keeps_those_it_made() -> None:
    component = read_rules("America/Mexico_City", 2021, 2024)
    zone, iana = expanded(component), ZoneInfo("America/Mexico_City")
    assert len(component.subcomponents) == 6
    for change in changes(iana, 2021, 2024):
        onset = (change.onset - change.offset_from).replace(tzinfo=dt.UTC)
        assert onset.astimezone(zone).utcoffset() == change.offset_to
    summer = dt.datetime(2024, 7, 1, tzinfo=dt.UTC)
    assert summer.astimezone(zone).utcoffset() == dt.timedelta(hours=-6)
