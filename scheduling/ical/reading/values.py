"""Dates, times, durations and rules as RFC 5545 (3.3) writes them."""

from __future__ import annotations

import datetime as dt
import re

from scheduling.errors import UnreadableCalendar
from scheduling.ical.reading.lines import ContentLine

TIME = re.compile(r"(\d{4})(\d\d)(\d\d)(?:T(\d\d)(\d\d)(\d\d)(Z?))?")
DURATION = re.compile(r"([+-]?)P(?:(\d+)W|(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?)")
FREQUENCIES = {"MINUTELY", "HOURLY", "DAILY", "WEEKLY", "MONTHLY", "YEARLY"}
LONGEST_LIST = 1_000
# What each part of a rule may hold: numbers from and to, without 0 where the sign tells from which end.
NUMBERS = {
    "BYSECOND": (0, 60),
    "BYMINUTE": (0, 59),
    "BYHOUR": (0, 23),
    "BYMONTHDAY": (-31, 31),
    "BYYEARDAY": (-366, 366),
    "BYWEEKNO": (-53, 53),
    "BYMONTH": (1, 12),
    "BYSETPOS": (-366, 366),
}
WEEKDAY = re.compile(r"([+-]?\d{1,2})?(MO|TU|WE|TH|FR|SA|SU)")


def wrong(line: ContentLine, reason: str) -> UnreadableCalendar:
    """The refusal of one property."""
    return UnreadableCalendar(line=line.number, reason=f"{line.name}: {reason}")


def when(line: ContentLine, value: str | None = None) -> dt.datetime | dt.date:
    """A date, or a time by whatever clock the property names; an instant where it ends in Z."""
    text = line.value if value is None else value
    found = TIME.fullmatch(text)
    is_date = line.parameters.get("VALUE", "").upper() == "DATE"
    if found is None or (found[4] is None) != is_date:
        expected = "a date, such as 20310304" if is_date else "a time, such as 20310304T180000"
        raise wrong(line, f"{text[:40]!r} is not {expected}.")
    try:
        day = dt.date(int(found[1]), int(found[2]), int(found[3]))
        if is_date:
            return day
        # A leap second is read as the one before it (RFC 5545, 3.3.12).
        time = dt.time(int(found[4]), int(found[5]), min(int(found[6]), 59))
    except ValueError as error:
        raise wrong(line, f"{text} does not exist.") from error
    return dt.datetime.combine(day, time, dt.UTC if found[7] else None)


def duration(line: ContentLine) -> dt.timedelta:
    """A length of time that is not negative."""
    found = DURATION.fullmatch(line.value)
    if found is None or line.value.endswith(("P", "T")):
        raise wrong(line, f"{line.value[:40]!r} is not a length of time, such as PT1H30M.")
    if found[1] == "-":
        raise wrong(line, "an event does not end before it begins.")
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in found.groups()[1:])
    try:
        return dt.timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
    except OverflowError as error:
        raise wrong(line, "that is longer than time is counted.") from error


def rule(line: ContentLine, begins: dt.datetime | dt.date) -> dict[str, str]:
    """A recurrence rule that can be carried out, by its parts."""
    pairs = [part.partition("=") for part in line.value.upper().rstrip(";").split(";")]
    parts = {name: value for name, _, value in pairs}
    if len(parts) != len(pairs):
        raise wrong(line, "a part stands in it twice.")
    if parts.get("FREQ") not in FREQUENCIES:
        raise wrong(line, f"FREQ is one of {', '.join(sorted(FREQUENCIES))}.")
    if "COUNT" in parts and "UNTIL" in parts:
        raise wrong(line, "COUNT and UNTIL exclude each other.")
    for name, value in parts.items():
        if name == "UNTIL":
            _until(line, value, begins)
        else:
            _rule_part(line, name, value)
    return parts


def _rule_part(line: ContentLine, name: str, value: str) -> None:
    if name in {"COUNT", "INTERVAL"}:
        if not value.isdecimal() or not 0 < int(value) < 10**9:
            raise wrong(line, f"{name} is a whole number from 1 on.")
    elif name in NUMBERS:
        _numbers(line, name, value)
    elif name in {"BYDAY", "WKST"}:
        _weekdays(line, name, value)
    elif name != "FREQ":
        raise wrong(line, f"{name[:20]!r} is no part of a rule.")


def _until(line: ContentLine, value: str, begins: dt.datetime | dt.date) -> None:
    form = "" if isinstance(begins, dt.datetime) else "DATE"
    # Older programs write a date here for an event that begins at a time; it means the end of that day.
    if form == "" and TIME.fullmatch(value) and "T" not in value:
        form = "DATE"
    when(ContentLine(number=line.number, name="RRULE", parameters={"VALUE": form}, value=value))


def _numbers(line: ContentLine, name: str, value: str) -> None:
    least, most = NUMBERS[name]
    listed = value.split(",")
    if len(listed) > LONGEST_LIST:
        raise wrong(line, f"{name} lists more than {LONGEST_LIST} numbers.")
    for one in listed:
        if not re.fullmatch(r"[+-]?\d{1,3}", one) or not least <= int(one) <= most:
            raise wrong(line, f"{name} holds numbers from {least} to {most}, not {one[:20]!r}.")
        if least < 0 and int(one) == 0:
            raise wrong(line, f"{name} does not hold 0.")


def _weekdays(line: ContentLine, name: str, value: str) -> None:
    for one in value.split(","):
        found = WEEKDAY.fullmatch(one)
        if found is None or (found[1] is not None and not 1 <= abs(int(found[1])) <= 53):
            raise wrong(line, f"{name} holds weekdays, such as MO or -1FR, not {one[:20]!r}.")
