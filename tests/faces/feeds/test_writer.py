"""Events go out as a calendar file and come back the same from readers that know nothing of each other."""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from pathlib import Path
from typing import Any

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduling.ical import writer
from scheduling.ical.event import CalendarFile, EventKind, Weekly
from scheduling.ical.text_form import plain
from scheduling.ical.writer import calendar_bytes, jcal_text
from tests.faces.feeds.node_readers import EVERY_READER, EXACT_READERS
from tests.faces.feeds.readers import by_icalendar
from tests.faces.feeds.samples import EVENING, Reader, event, lines, local, seen, written

WEEK = dt.timedelta(weeks=1)
RUNS = json.loads((Path(__file__).parents[3] / "fixtures" / "clock_changes.json").read_text())["runs"]


@pytest.mark.parametrize("reader", EVERY_READER)
@pytest.mark.parametrize("run", RUNS, ids=lambda run: f"{run['tzid']} {run['start_local']}")
def test_a_night_over_a_change_of_clocks_keeps_its_hours(run: dict[str, Any], reader: Reader) -> None:
    start, end = (dt.datetime.fromisoformat(run[f"{end}_utc"]) for end in ("start", "end"))

    (read,) = reader(written(event(zone=run["tzid"], starts_at=start, ends_at=end)))

    assert (read.starts_at, read.ends_at) == (start, end)
    assert read.ends_at - read.starts_at == dt.timedelta(hours=run["elapsed_hours"])


@pytest.mark.parametrize("reader", EVERY_READER)
@pytest.mark.parametrize(
    ("zone", "day", "hours"),
    [
        ("America/Chicago", "2027-03-13", 11),
        ("America/Chicago", "2027-11-06", 13),
        ("Europe/Prague", "2027-03-27", 11),
        ("Europe/Prague", "2027-10-30", 13),
        ("Australia/Lord_Howe", "2027-10-02", 11.5),
        ("Australia/Lord_Howe", "2027-04-03", 12.5),
    ],
)
def test_eight_in_the_evening_to_eight_in_the_morning(
    zone: str, day: str, hours: float, reader: Reader
) -> None:
    start = local(f"{day}T20:00", zone)
    night = event(zone=zone, starts_at=start, ends_at=start + dt.timedelta(hours=hours))

    content = written(night)

    morning = dt.date.fromisoformat(day) + dt.timedelta(days=1)
    assert f"DTSTART;TZID={zone}:{day.replace('-', '')}T200000" in lines(content)
    assert f"DTEND;TZID={zone}:{morning:%Y%m%d}T080000" in lines(content)
    assert reader(content) == [seen(night)]


@pytest.mark.parametrize(("start_utc", "end_utc"), [("223000", "063000"), ("223000", "073000")])
def test_an_end_in_a_doubled_hour_is_written_in_utc(start_utc: str, end_utc: str) -> None:
    """Readers do not agree which pass a local time means there; two common ones take the second."""
    start, end = (dt.datetime.fromisoformat(t) for t in (f"20271106T{start_utc}Z", f"20271107T{end_utc}Z"))

    content = written(event(starts_at=start, ends_at=end))

    assert f"DTSTART:20271106T{start_utc}Z" in lines(content)
    assert f"DTEND:20271107T{end_utc}Z" in lines(content)
    assert "BEGIN:VTIMEZONE" not in lines(content)


@pytest.mark.parametrize("reader", EVERY_READER)
def test_two_studios_in_two_zones_and_all_that_an_event_tells(reader: Reader) -> None:
    events = [
        event(),
        event(uid="class", kind=EventKind.CLASS, opaque=True, zone="Europe/Prague"),
        event(uid="gone", title="Bench time, Torch 3", opaque=False, cancelled=True),
        event(uid="moment", kind=EventKind.PICK_UP, ends_at=EVENING),
    ]

    assert reader(written(*events)) == sorted(seen(each) for each in events)


@pytest.mark.parametrize("reader", EVERY_READER)
def test_a_calendar_in_which_nothing_stands_is_a_calendar_all_the_same(reader: Reader) -> None:
    """It has at least one component (RFC 5545, 3.4), and it is the same each time."""
    empty = written()

    assert reader(empty) == []
    (zone,) = icalendar.Calendar.from_ical(empty).subcomponents
    assert (zone.name, str(zone["TZID"])) == ("VTIMEZONE", "Etc/UTC")
    _, _, inside = json.loads(jcal_text(CalendarFile(name="A week", description="A week.", events=())))
    assert [component[0] for component in inside] == ["vtimezone"]


@pytest.mark.parametrize("reader", EVERY_READER)
@pytest.mark.parametrize(
    "text",
    [
        "Bowls, cups; plates: \\, is no comma, \\; no semicolon",
        "first line\nsecond line\n\nfourth line",
        "Příliš žluťoučký kůň úpěl ďábelské ódy, 510 °C, τ 4 h, ½ inch. " * 12,
        "👩‍🏭🔥" * 40,
        '"quoted", (bracketed) ^ and ' + "x" * 200,
    ],
)
def test_text_comes_back_as_it_went_out(text: str, reader: Reader) -> None:
    said = event(title=text.replace("\n", " "), description=text)
    assert reader(written(said)) == [seen(said)]


@pytest.mark.parametrize("reader", EXACT_READERS)
def test_a_backslash_before_an_n_is_no_line_end(reader: Reader) -> None:
    said = event(title="C:\\new\\nothing", description="\\\\n\n\\n")
    assert reader(written(said)) == [seen(said)]


@given(
    text=st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Zl", "Zp"]), max_size=200),
    start=st.datetimes(dt.datetime(2025, 1, 1), dt.datetime(2031, 1, 1)),  # noqa: DTZ001  (UTC is added)
    minutes=st.integers(0, 5000),
    zone=st.sampled_from(["America/Chicago", "Europe/Prague", "Australia/Lord_Howe", "Asia/Kolkata"]),
)
def test_any_event_comes_back_the_same(text: str, start: dt.datetime, minutes: int, zone: str) -> None:
    starts_at = start.replace(second=0, microsecond=0, tzinfo=dt.UTC)
    any_event = event(
        title=text, zone=zone, starts_at=starts_at, ends_at=starts_at + dt.timedelta(minutes=minutes)
    )

    content = written(any_event)

    assert by_icalendar(content) == [seen(any_event)]
    assert all(len(line) <= 75 for line in content.split(b"\r\n"))


def test_lines_end_by_crlf_and_fold_at_75_octets_between_characters() -> None:
    content = written(event(description="Žluťoučký kůň 🔥 " * 60, title="é" * 300))

    assert content.endswith(b"END:VCALENDAR\r\n")
    assert b"\n" not in content.replace(b"\r\n", b"")
    physical = content.split(b"\r\n")
    assert max(len(line) for line in physical) <= 75
    # Every line is UTF-8 by itself: no fold lies inside a character.
    assert "Žluťoučký" in "".join(line.decode().removeprefix(" ") for line in physical)


def test_control_characters_and_foreign_line_ends_do_not_reach_the_file() -> None:
    assert plain("bell\x07 and\r\nlines\rend\u2028here\x00") == "bell and\nlines\nend\nhere"


def test_the_head_names_the_calendar_and_how_often_to_look() -> None:
    head = lines(calendar_bytes(CalendarFile(name="Vera; classes, firings", description="d", events=[])))

    assert head[: head.index("BEGIN:VTIMEZONE")] == [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//Lehrbook//Calendar 1//EN",
        "CALSCALE:GREGORIAN",
        "NAME:Vera\\; classes\\, firings",
        "DESCRIPTION:d",
        "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
    ]
    assert head[-2:] == ["END:VCALENDAR", ""]


def test_the_head_says_where_the_same_is_shown_its_colour_and_its_last_change() -> None:
    head = lines(
        calendar_bytes(
            CalendarFile(
                name="Vera",
                description="d",
                events=[],
                url="https://lehrbook.test/week/",
                color="teal",
                changed_at=dt.datetime(2027, 2, 1, 9, 30, 15, 999_999, tzinfo=dt.UTC),
            )
        )
    )

    assert {"COLOR:teal", "URL:https://lehrbook.test/week/", "LAST-MODIFIED:20270201T093015Z"} < set(head)


@pytest.mark.parametrize("kind", EventKind)
def test_every_kind_of_event_has_its_category_and_its_colour(kind: EventKind) -> None:
    content = lines(written(event(kind=kind)))
    assert f"CATEGORIES:{kind}" in content
    assert len([line for line in content if line.startswith("COLOR:")]) == 1


def test_a_place_is_given_to_six_decimals() -> None:
    assert "GEO:44.978000;-93.265000" in lines(written(event(geo=(44.978, -93.2650001))))
    assert not any(line.startswith("GEO") for line in lines(written(event())))


def test_what_an_event_says_of_its_last_change() -> None:
    content = lines(written(event()))

    for line in ("SEQUENCE:2", "DTSTAMP:20270201T093015Z", "LAST-MODIFIED:20270201T093015Z"):
        assert line in content
    assert "LOCATION:Quillback Hot Shop\\, 4 Ferry Lane" in content
    assert "CATEGORIES:firing" in content
    assert not any(line.startswith(("METHOD", "URL", "X-")) for line in content)


def test_an_address_is_given_where_it_is_known() -> None:
    file = CalendarFile(name="n", description="d", events=[event(), event(uid="nowhere", page=())])
    content = lines(calendar_bytes(file, link=lambda each: f"https://lehrbook.test/{each.page[1]}"))

    assert [line for line in content if line.startswith("URL")] == ["URL:https://lehrbook.test/7b0d5d3e"]


def test_a_duty_rings_before_it_begins_and_a_cancelled_one_does_not() -> None:
    duty = event(kind=EventKind.DUTY, title="Unload Annealer 1", alarm_min=30)

    rings = lines(written(duty))

    alarm = rings[rings.index("BEGIN:VALARM") + 1 : rings.index("END:VALARM")]
    assert alarm == ["ACTION:DISPLAY", "DESCRIPTION:Unload Annealer 1", "TRIGGER:-PT30M"]
    assert "BEGIN:VALARM" not in lines(written(dataclasses.replace(duty, cancelled=True)))


def test_a_cancelled_class_stays_visible_and_takes_no_time() -> None:
    content = lines(written(event(opaque=True, cancelled=True)))
    assert "STATUS:CANCELLED" in content
    assert "TRANSP:TRANSPARENT" in content


def test_the_same_events_give_the_same_bytes() -> None:
    assert written(event(), event(uid="b")) == written(event(), event(uid="b"))
    assert written(event()) != written(event(sequence=3))


def test_what_is_joined_from_what_is_kept_is_what_is_written_anew() -> None:
    events = [event(uid=str(number), alarm_min=number) for number in range(5)]
    weekly = event(uid="weekly", weekly=Weekly(until=EVENING + 40 * WEEK))
    written(*events, weekly)

    some_changed = [*events[:2], event(uid="2", title="changed"), *events[3:], weekly]
    joined = written(*some_changed)
    writer._kept.cache_clear()

    assert joined == written(*some_changed)


def test_an_event_with_another_address_is_written_anew() -> None:
    file = CalendarFile(name="n", description="d", events=[event()])
    here = calendar_bytes(file, lambda _: "https://here.test/")
    there = calendar_bytes(file, lambda _: "https://there.test/")
    assert b"URL:https://here.test/" in here
    assert there == here.replace(b"here", b"there")


@pytest.mark.parametrize(
    ("starts", "ends", "inside"),
    [(-2, 0, False), (-2, 1, True), (10, 12, False), (9, 12, True), (0, 0, True)],
)
def test_a_window_is_half_open(starts: int, ends: int, *, inside: bool) -> None:
    hour = dt.timedelta(hours=1)
    each = event(starts_at=EVENING + starts * hour, ends_at=EVENING + ends * hour)
    assert each.meets(EVENING, EVENING + 10 * hour) is inside
