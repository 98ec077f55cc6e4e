"""Components as JSON (RFC 7265, jCal): lists of a name, parameters, a type and values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from scheduling.ical.components import Component, Property, ValueType
from scheduling.ical.text_form import coordinate, duration, plain, utc_offset

Json = list[Any]


def as_json(component: Component) -> Json:
    """A component and all inside it, as what `json` writes."""
    return [
        component.name,
        [_property(each) for each in component.properties],
        [as_json(inner) for inner in component.components],
    ]


def _property(each: Property) -> Json:
    values = [VALUES[each.type](value) for value in each.values]
    # A place is one structured value of two numbers (3.4.1.2); other values stand side by side.
    return [
        each.name,
        {name: plain(value) for name, value in each.params},
        each.type.value,
        *([values] if each.name == "geo" else values),
    ]


def date_time(moment: dt.datetime) -> str:
    """2027-03-11T00:00:00Z, or without the Z where it is a time of a zone."""
    return moment.replace(microsecond=0, tzinfo=None).isoformat() + ("Z" if moment.tzinfo else "")


def _rule(parts: Any) -> dict[str, Any]:
    return {name.lower(): _rule_part(value) for name, value in parts}


def _rule_part(value: object) -> object:
    if isinstance(value, dt.datetime):
        return date_time(value)
    return list(value) if isinstance(value, tuple) else value


VALUES: dict[ValueType, Callable[[Any], Any]] = {
    ValueType.TEXT: plain,
    ValueType.URI: str,
    ValueType.CAL_ADDRESS: str,
    ValueType.INTEGER: int,
    ValueType.DATE_TIME: date_time,
    ValueType.DURATION: duration,
    ValueType.UTC_OFFSET: lambda offset: utc_offset(offset, ":"),
    ValueType.FLOAT: lambda value: float(coordinate(value)),
    ValueType.RECUR: _rule,
    ValueType.PERIOD: lambda ends: [date_time(end) for end in ends],
}
