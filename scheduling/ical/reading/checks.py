"""What a calendar must be for its busy time to be known; each rule names the line that breaks it."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Collection, Iterable
from zoneinfo import available_timezones

from scheduling.errors import UnreadableCalendar
from scheduling.ical.reading.lines import ContentLine, Part
from scheduling.ical.reading.values import duration, rule, when, wrong

OFFSET = re.compile(r"[+-]([01]\d|2[0-3])[0-5]\d([0-5]\d)?")
ONCE = ("UID", "DTSTAMP", "DTSTART")
AT_MOST_ONCE = ("DTEND", "DURATION", "RRULE", "RECURRENCE-ID", "STATUS", "TRANSP")
TIMES = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE", "RDATE")
MOST_EVENTS = 20_000


def check(calendars: Iterable[Part]) -> None:
    """Raises UnreadableCalendar with the first thing that is wrong."""
    for calendar in calendars:
        _version(calendar)
        zones = {_zone(part) for part in calendar.of_kind("VTIMEZONE")}
        events = list(calendar.of_kind("VEVENT"))
        if len(events) > MOST_EVENTS:
            reason = f"From here on there are more than {MOST_EVENTS} events."
            raise UnreadableCalendar(line=events[MOST_EVENTS].number, reason=reason)
        for event in events:
            _event(event, zones)


def _version(calendar: Part) -> None:
    versions = [line.value for line in calendar.named("VERSION")]
    if versions != ["2.0"]:
        raise UnreadableCalendar(line=calendar.number, reason="A calendar says VERSION:2.0 once.")


def _zone(part: Part) -> str:
    """The name of a zone whose rules the file gives."""
    name = _one(part, "TZID").value
    observances = [*part.of_kind("STANDARD"), *part.of_kind("DAYLIGHT")]
    if not observances:
        raise UnreadableCalendar(line=part.number, reason="VTIMEZONE has neither STANDARD nor DAYLIGHT.")
    for observance in observances:
        begins = when(_one(observance, "DTSTART"))
        for offset in (_one(observance, "TZOFFSETFROM"), _one(observance, "TZOFFSETTO")):
            if not OFFSET.fullmatch(offset.value):
                raise wrong(offset, f"{offset.value[:20]!r} is not an offset, such as -0600.")
        for line in observance.named("RRULE"):
            rule(line, begins)
        _dates_more(observance)
    return name


def _event(event: Part, zones: Collection[str]) -> None:
    for name in ONCE:
        _one(event, name)
    for name in AT_MOST_ONCE:
        if len(lines := event.named(name)) > 1:
            raise wrong(lines[1], "it stands in this event twice.")
    for line in (line for name in TIMES for line in event.named(name)):
        _named_zone(line, zones)
    begins = when(event.named("DTSTART")[0])
    _end(event, begins)
    _repeats(event, begins)


def _one(part: Part, name: str) -> ContentLine:
    lines = part.named(name)
    if len(lines) != 1:
        how = "has no" if not lines else "has more than one"
        raise UnreadableCalendar(line=part.number, reason=f"{part.kind} {how} {name}.")
    return lines[0]


def _named_zone(line: ContentLine, zones: Collection[str]) -> None:
    name = line.parameters.get("TZID")
    if name is not None and name not in zones and name.lstrip("/") not in available_timezones():
        raise wrong(line, f"the time zone {name[:60]!r} is unknown, and the file does not give its rules.")


def _end(event: Part, begins: dt.datetime | dt.date) -> None:
    ends, lasts = event.named("DTEND"), event.named("DURATION")
    if ends and lasts:
        raise wrong(lasts[0], "an event has an end or a duration, not both.")
    if lasts:
        _require_in_time(lasts[0], begins)
    if not ends:
        return
    end = when(ends[0])
    if _form(end) != _form(begins) and not {_form(end), _form(begins)} <= {"instant", "time"}:
        raise wrong(ends[0], "it is a date where the start is a time, or the other way.")
    same_clock = ends[0].parameters.get("TZID") == event.named("DTSTART")[0].parameters.get("TZID")
    if _form(end) == _form(begins) and same_clock and end < begins:
        raise wrong(ends[0], "the event ends before it begins.")


def _require_in_time(lasts: ContentLine, begins: dt.datetime | dt.date) -> None:
    try:
        begins + duration(lasts)
    except OverflowError as error:
        raise wrong(lasts, "the event ends after the last day that is counted.") from error


def _form(value: dt.datetime | dt.date) -> str:
    if not isinstance(value, dt.datetime):
        return "date"
    return "instant" if value.tzinfo else "time"


def _repeats(event: Part, begins: dt.datetime | dt.date) -> None:
    for line in event.named("RRULE"):
        rule(line, begins)
    for line in event.named("EXDATE"):
        for value in line.value.split(","):
            when(line, value)
    _dates_more(event)
    for line in event.named("RECURRENCE-ID"):
        if (_form(when(line)) == "date") != (_form(begins) == "date"):
            raise wrong(line, "it has not the form of the start of the event.")


def _dates_more(part: Part) -> None:
    for line in part.named("RDATE"):
        for value in line.value.split(","):
            _added(line, value)


def _added(line: ContentLine, value: str) -> None:
    """A date or a time more; or a period, from and to or for how long."""
    if line.parameters.get("VALUE", "").upper() != "PERIOD":
        when(line, value)
        return
    start, _, end = value.partition("/")
    bare = ContentLine(number=line.number, name=line.name, parameters={}, value=start)
    when(bare)
    if end.startswith(("P", "+P")):
        duration(ContentLine(number=line.number, name=line.name, parameters={}, value=end))
    else:
        when(bare, end)
