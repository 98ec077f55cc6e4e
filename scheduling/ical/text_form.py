"""Components as lines of text (RFC 5545): escaped, ended by CRLF, folded at 75 octets between characters."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterator
from typing import Any

from scheduling.ical.components import Component, Property, ValueType

LINE_OCTETS = 75
# Text may hold no control characters but tab and line feed (RFC 5545, 3.1 and 3.3.11).
CONTROLS = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
LINE_ENDS = re.compile(r"\r\n?|[\x0b\x0c\x85\u2028\u2029]")
ESCAPES = str.maketrans({"\\": "\\\\", ";": "\\;", ",": "\\,", "\n": "\\n"})
# RFC 6868: what a quoted parameter cannot hold.
PARAMETER_ESCAPES = str.maketrans({"^": "^^", '"': "^'", "\n": "^n"})
NEEDS_QUOTES = re.compile(r"[,;:^]")


def plain(text: str) -> str:
    """Text as a calendar may carry it: every kind of line end a line feed, no control characters."""
    return CONTROLS.sub("", LINE_ENDS.sub("\n", text))


def written(component: Component) -> bytes:
    """A component and all inside it, in UTF-8."""
    return b"".join(map(folded, _lines(component)))


def folded(line: str) -> bytes:
    """A line with its end. Every part but the first begins with a blank, which counts, too."""
    octets = line.encode()
    if len(octets) <= LINE_OCTETS:
        return octets + b"\r\n"
    parts, begin, room = [], 0, LINE_OCTETS
    while begin < len(octets):
        end = begin + room
        # An octet 10xxxxxx continues a character.
        while end < len(octets) and octets[end] & 0xC0 == 0x80:
            end -= 1
        parts.append(octets[begin:end])
        begin, room = end, LINE_OCTETS - 1
    return b"\r\n ".join(parts) + b"\r\n"


def _lines(component: Component) -> Iterator[str]:
    name = component.name.upper()
    yield f"BEGIN:{name}"
    for each in component.properties:
        yield _line(each)
    for inner in component.components:
        yield from _lines(inner)
    yield f"END:{name}"


def _line(each: Property) -> str:
    params = "".join(f";{name.upper()}={_parameter(value)}" for name, value in each.params)
    if each.name in NAMED_TYPES:
        params += f";VALUE={each.type.upper()}"
    separator = ";" if each.name == "geo" else ","
    return f"{each.name.upper()}{params}:" + separator.join(map(VALUES[each.type], each.values))


def _parameter(value: str) -> str:
    escaped = plain(value).translate(PARAMETER_ESCAPES)
    return f'"{escaped}"' if NEEDS_QUOTES.search(escaped) else escaped


def date_time(moment: dt.datetime) -> str:
    """20270311T000000Z, or without the Z where it is a time of a zone."""
    # Not by strftime, which takes three times as long.
    day = f"{moment.year:04}{moment.month:02}{moment.day:02}"
    return f"{day}T{moment.hour:02}{moment.minute:02}{moment.second:02}" + ("Z" if moment.tzinfo else "")


def duration(length: dt.timedelta) -> str:
    """PT1H30M: hours are exact, where a day would be as long as the clocks make it."""
    sign, seconds = ("-", -length) if length < dt.timedelta(0) else ("", length)
    minutes, rest = divmod(int(seconds.total_seconds()), 60)
    parts = zip((*divmod(minutes, 60), rest), "HMS", strict=True)
    return f"{sign}PT" + ("".join(f"{count}{unit}" for count, unit in parts if count) or "0S")


def utc_offset(offset: dt.timedelta, separator: str = "") -> str:
    """+0530; seconds only where there are some."""
    seconds = round(offset.total_seconds())
    hours, rest = divmod(abs(seconds), 3600)
    parts = [f"{hours:02}", f"{rest // 60:02}", *([f"{rest % 60:02}"] if rest % 60 else [])]
    return ("-" if seconds < 0 else "+") + separator.join(parts)


def _rule(parts: Any) -> str:
    return ";".join(f"{name}={_rule_part(value)}" for name, value in parts)


def _rule_part(value: object) -> str:
    if isinstance(value, dt.datetime):
        return date_time(value)
    return ",".join(map(str, value)) if isinstance(value, tuple) else str(value)


def _period(ends: Any) -> str:
    return "/".join(map(date_time, ends))


def coordinate(value: float) -> str:
    """Six decimal places, about a tenth of a metre (RFC 5545, 3.8.1.6)."""
    return f"{value:.6f}"


# Properties whose usual type is another, or none (RFC 7986, 5.7).
NAMED_TYPES = frozenset({"refresh-interval"})
VALUES: dict[ValueType, Callable[[Any], str]] = {
    ValueType.TEXT: lambda value: plain(value).translate(ESCAPES),
    ValueType.URI: str,
    ValueType.CAL_ADDRESS: str,
    ValueType.INTEGER: str,
    ValueType.DATE_TIME: date_time,
    ValueType.DURATION: duration,
    ValueType.UTC_OFFSET: utc_offset,
    ValueType.FLOAT: coordinate,
    ValueType.RECUR: _rule,
    ValueType.PERIOD: _period,
}
