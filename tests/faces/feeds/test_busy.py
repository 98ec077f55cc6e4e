"""Other calendars read as busy time: the dates of RFC 5545, what takes time, and what is refused."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduling.errors import UnreadableCalendar
from scheduling.ical.reading.apart import MOST_BYTES, busy_apart
from scheduling.ical.reading.busy import Window, busy_spans

CHICAGO = ZoneInfo("America/Chicago")
RFC = json.loads((Path(__file__).parents[3] / "fixtures" / "rfc5545_recurrences.json").read_text())
MARCH = Window(
    begin=dt.datetime(2031, 3, 1, tzinfo=dt.UTC), end=dt.datetime(2031, 4, 1, tzinfo=dt.UTC), zone=CHICAGO
)
RULES = [(example, rule) for example in RFC["examples"] for rule in example["rrules"]]


def calendar(*events: str, before: str = "") -> bytes:
    """A calendar of some events, each given by its own lines."""
    parts = [
        f"BEGIN:VEVENT\nUID:{n}\nDTSTAMP:20310101T000000Z\n{event}\nEND:VEVENT"
        for n, event in enumerate(events)
    ]
    lines = "\n".join(
        ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//town//EN", *filter(None, [before]), *parts]
    )
    return (lines + "\nEND:VCALENDAR\n").replace("\n", "\r\n").encode()


def busy(*events: str, before: str = "") -> list[str]:
    """The spans in March by the clocks of Chicago."""
    spans = busy_spans(calendar(*events, before=before), MARCH)
    return [f"{a.astimezone(CHICAGO):%d %H:%M} to {b.astimezone(CHICAGO):%d %H:%M}" for a, b in spans]


@pytest.mark.parametrize(
    ("example", "rule"), RULES, ids=[f"{example['title']}: {rule}" for example, rule in RULES]
)
def test_the_examples_of_rfc_5545_give_the_dates_that_it_prints(example: dict, rule: str) -> None:
    zone = example["tzid"]
    excepted = [f"EXDATE;TZID={zone}:{day}" for day in example["exdate"]]
    lines = [f"DTSTART;TZID={zone}:{example['dtstart']}", "DURATION:PT1M", f"RRULE:{rule}", *excepted]
    printed = [dt.datetime.fromisoformat(moment).astimezone(dt.UTC) for moment in example["expected"]]
    until = max(printed) + (dt.timedelta(minutes=1) if example["open_ended"] else dt.timedelta(days=900))
    window = Window(begin=dt.datetime(1990, 1, 1, tzinfo=dt.UTC), end=until, zone=ZoneInfo(zone))

    found = [begin for begin, _ in busy_spans(calendar("\n".join(lines)), window)]

    if example["expected_has_gaps"]:
        assert set(printed) <= set(found)
    else:
        assert found == printed


EVENING = "DTSTART;TZID=America/Chicago:20310304T180000\nDTEND;TZID=America/Chicago:20310304T200000"
TOWN_TIME = """BEGIN:VTIMEZONE
TZID:Town Time
BEGIN:STANDARD
DTSTART:20000101T000000
TZOFFSETFROM:-0600
TZOFFSETTO:-0630
END:STANDARD
END:VTIMEZONE"""


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([EVENING], ["04 18:00 to 04 20:00"]),
        ([EVENING + "\nTRANSP:TRANSPARENT"], []),
        ([EVENING + "\nSTATUS:CANCELLED"], []),
        ([EVENING + "\nSTATUS:TENTATIVE"], ["04 18:00 to 04 20:00"]),
        (["DTSTART:20310304T180000\nDURATION:PT90M"], ["04 18:00 to 04 19:30"]),
        (["DTSTART:20310305T000000Z\nDTEND:20310305T010000Z"], ["04 18:00 to 04 19:00"]),
        (["DTSTART;VALUE=DATE:20310304"], ["04 00:00 to 05 00:00"]),
        (["DTSTART;VALUE=DATE:20310309\nDTEND;VALUE=DATE:20310310"], ["09 00:00 to 10 00:00"]),
        (["DTSTART:20310304T180000"], []),
        ([EVENING, EVENING.replace("18", "19", 1).replace("T20", "T21")], ["04 18:00 to 04 21:00"]),
        ([EVENING + "\nRRULE:FREQ=WEEKLY;COUNT=2"], ["04 18:00 to 04 20:00", "11 18:00 to 11 20:00"]),
        (
            [EVENING + "\nRRULE:FREQ=WEEKLY;COUNT=3\nEXDATE;TZID=America/Chicago:20310311T180000"],
            ["04 18:00 to 04 20:00", "18 18:00 to 18 20:00"],
        ),
        (
            [EVENING + "\nRDATE;TZID=America/Chicago:20310306T090000"],
            ["04 18:00 to 04 20:00", "06 09:00 to 06 11:00"],
        ),
    ],
)
def test_what_takes_time_and_what_does_not(events: list[str], expected: list[str]) -> None:
    assert busy(*events) == expected


def test_one_meeting_of_a_weekly_event_is_moved_and_one_is_cancelled() -> None:
    series = EVENING + "\nRRULE:FREQ=WEEKLY;COUNT=3"
    at = "RECURRENCE-ID;TZID=America/Chicago:203103{}T180000"
    moved = at.format("11") + "\nDTSTART;TZID=America/Chicago:20310312T070000\nDURATION:PT1H"
    gone = at.format("18") + "\n" + EVENING.replace("0304", "0318") + "\nSTATUS:CANCELLED"
    content = calendar(series, moved, gone).replace(b"UID:1\r", b"UID:0\r").replace(b"UID:2\r", b"UID:0\r")

    found = busy_spans(content, MARCH)

    assert [f"{begin.astimezone(CHICAGO):%d %H:%M}" for begin, _ in found] == ["04 18:00", "12 07:00"]


def test_a_zone_of_the_file_itself_is_read_by_its_own_rules() -> None:
    assert busy("DTSTART;TZID=Town Time:20310304T180000\nDURATION:PT1H", before=TOWN_TIME) == [
        "04 18:30 to 04 19:30"
    ]


def test_what_is_read_apart_is_what_is_read_here() -> None:
    content = calendar(EVENING + "\nRRULE:FREQ=DAILY;COUNT=5")

    assert busy_apart(content, MARCH) == busy_spans(content, MARCH)


WEEKLY = EVENING + "\nRRULE:FREQ=WEEKLY"
GOOD = calendar(EVENING).decode()
BROKEN = {
    "nothing at all": ("", 1, "The file is empty"),
    "no calendar": ("UID:1\n", 1, "begins with BEGIN:VCALENDAR"),
    "another format": ("<html>\n", 1, "neither begins a property"),
    "bad folding": (GOOD.replace("DTSTAMP:", "DTSTAMP:\nand more"), 7, "neither begins a property"),
    "a first line that goes on": (" " + GOOD, 1, "none to go on from"),
    "cut off": (GOOD[: GOOD.index("END:VEVENT")], 4, "ends inside VEVENT"),
    "ends crossed": (GOOD.replace("END:VEVENT", "END:VTODO"), 9, "VTODO ends here, but VEVENT is still open"),
    "an end too many": (GOOD + "END:VCALENDAR\n", 11, "nothing is open"),
    "an event in an event": (GOOD.replace("UID:0", "BEGIN:VEVENT\nEND:VEVENT"), 4, "VEVENT has no UID"),
    "a calendar in a calendar": (GOOD.replace("UID:0", "BEGIN:VCALENDAR"), 5, "cannot begin inside VEVENT"),
    "an event outside": ("BEGIN:VEVENT\nEND:VEVENT\n", 1, "cannot begin outside a calendar"),
    "another version": (GOOD.replace("VERSION:2.0", "VERSION:1.0"), 1, "VERSION:2.0"),
    "not UTF-8": (GOOD.replace("UID:0", "UID:\udcff"), 5, "not UTF-8"),
    "a control character": (GOOD.replace("UID:0", "UID:\x00"), 5, "control character"),
    "no stamp": (GOOD.replace("DTSTAMP", "X-STAMP"), 4, "VEVENT has no DTSTAMP"),
    "no uid": (GOOD.replace("UID:0", "X-UID:0"), 4, "VEVENT has no UID"),
    "no start": (GOOD.replace("DTSTART", "X-START"), 4, "VEVENT has no DTSTART"),
    "two starts": (calendar(EVENING + "\nDTSTART:20310304T190000").decode(), 4, "more than one DTSTART"),
    "two ends": (calendar(EVENING + "\nDTEND:20310304T210000").decode(), 9, "stands in this event twice"),
    "end and duration": (calendar(EVENING + "\nDURATION:PT1H").decode(), 9, "not both"),
    "end before start": (calendar(EVENING.replace("T20", "T17")).decode(), 8, "ends before it begins"),
    "negative duration": (
        calendar("DTSTART:20310304T180000\nDURATION:-PT1H").decode(),
        8,
        "before it begins",
    ),
    "no duration": (calendar("DTSTART:20310304T180000\nDURATION:PT").decode(), 8, "not a length of time"),
    "duration past all days": (
        calendar("DTSTART:99991231T180000\nDURATION:P9W").decode(),
        8,
        "after the last day",
    ),
    "endless duration": (
        calendar(f"DTSTART:20310304T180000\nDURATION:P{'9' * 30}D").decode(),
        8,
        "longer than",
    ),
    "end of another form": (
        calendar("DTSTART:20310304T180000\nDTEND;VALUE=DATE:20310305").decode(),
        8,
        "a date",
    ),
    "unknown zone": (GOOD.replace("America/Chicago", "Nowhere/At-All"), 7, "is unknown"),
    "impossible day": (GOOD.replace("20310304T18", "20310231T18"), 7, "does not exist"),
    "impossible hour": (GOOD.replace("T180000", "T250000"), 7, "does not exist"),
    "no time": (GOOD.replace("20310304T180000", "tomorrow"), 7, "is not a time"),
    "rule without how often": (calendar(EVENING + "\nRRULE:INTERVAL=2").decode(), 9, "FREQ is one of"),
    "every second": (calendar(EVENING + "\nRRULE:FREQ=SECONDLY").decode(), 9, "FREQ is one of"),
    "count and until": (
        calendar(WEEKLY + ";COUNT=2;UNTIL=20310401T000000Z").decode(),
        9,
        "exclude each other",
    ),
    "count of nothing": (calendar(WEEKLY + ";COUNT=0").decode(), 9, "whole number from 1"),
    "thirteenth month": (calendar(EVENING + "\nRRULE:FREQ=YEARLY;BYMONTH=13").decode(), 9, "from 1 to 12"),
    "no weekday": (calendar(WEEKLY + ";BYDAY=XX").decode(), 9, "BYDAY holds weekdays"),
    "unknown part of a rule": (calendar(WEEKLY + ";BYMOON=FULL").decode(), 9, "no part of a rule"),
    "zone without rules": (
        calendar(EVENING, before="BEGIN:VTIMEZONE\nTZID:X\nEND:VTIMEZONE").decode(),
        4,
        "neither",
    ),
    "zone with a bad offset": (
        calendar(EVENING, before=TOWN_TIME.replace("-0630", "west")).decode(),
        9,
        "an offset",
    ),
    "zone with a date that is none": (
        calendar(EVENING, before=TOWN_TIME.replace("-0630", "-0630\nRDATE:soon")).decode(),
        10,
        "a time",
    ),
    "a part with an endless name": ("BEGIN:" + "X" * 10_000, 1, f"Line 1: {'X' * 40}… cannot begin outside"),
    "an endless name inside": (
        GOOD.replace("UID:0", f"BEGIN:{'X' * 10_000}"),
        9,
        f"{'X' * 40}… is still open",
    ),
    "an end with an endless name": (
        GOOD.replace("END:VEVENT", f"END:{'X' * 10_000}"),
        9,
        f"{'X' * 40}… ends here",
    ),
    "a period that is none": (
        calendar(EVENING + "\nRDATE;VALUE=PERIOD:20310306T090000/soon").decode(),
        9,
        "a time",
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_calendar_is_refused_with_the_line_and_the_reason(name: str) -> None:
    text, line, reason = BROKEN[name]

    with pytest.raises(UnreadableCalendar) as refused:
        busy_spans(text.encode(errors="surrogateescape"), MARCH)

    assert reason in str(refused.value)
    assert len(str(refused.value)) < 250
    assert refused.value.facts["line"] == line


@pytest.mark.parametrize(
    "rule",
    [
        "FREQ=MINUTELY",
        "FREQ=MINUTELY;BYMONTH=2;BYMONTHDAY=30",
        "FREQ=HOURLY;BYMONTH=2;BYMONTHDAY=31;BYHOUR=3",
    ],
)
def test_a_rule_with_a_million_instances_or_none_ever_is_refused_in_bounded_time(
    rule: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.ical.reading.apart.MOST_SECONDS", 3)
    content = calendar(f"DTSTART:19700101T000000Z\nDURATION:PT1M\nRRULE:{rule}")

    with pytest.raises(UnreadableCalendar, match=r"too long to read|more than"):
        busy_apart(content, MARCH)


def test_a_file_that_is_too_large_is_not_even_looked_at() -> None:
    with pytest.raises(UnreadableCalendar, match="larger than 5 MB"):
        busy_apart(b"x" * (MOST_BYTES + 1), MARCH)


def test_a_file_as_large_as_may_be_is_read() -> None:
    event = "DTSTART:20310304T180000\nDURATION:PT1H\nDESCRIPTION:" + "glass " * 40
    content = calendar(*[event] * 3_000)
    assert len(content) < MOST_BYTES

    assert len(busy_apart(content, MARCH)) == 1
