"""What a calendar file is made of, before it is written as text (RFC 5545) or as JSON (RFC 7265).

Each value carries its type, so that a form has one way to write each type and no property is special to it.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from zoneinfo import ZoneInfo


class ValueType(StrEnum):
    """The types of values that are used here, by their names in the standard (RFC 5545, 3.3).

    In Python they are str, datetime, timedelta, int and float; a rule is its parts in order, a period is
    its two ends.
    """

    TEXT = "text"
    URI = "uri"
    CAL_ADDRESS = "cal-address"
    INTEGER = "integer"
    DATE_TIME = "date-time"
    DURATION = "duration"
    UTC_OFFSET = "utc-offset"
    FLOAT = "float"
    RECUR = "recur"
    PERIOD = "period"


Rule = tuple[tuple[str, object], ...]


@dataclass(frozen=True, slots=True)
class Property:
    """One property: its name in lower case, its type, its values and its parameters.

    A date-time without a zone is a time of the zone that its parameter TZID names; one with a zone is written
    in UTC.
    """

    name: str
    type: ValueType
    values: tuple[object, ...]
    params: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Component:
    """A component: its name in lower case, its properties and the components inside it, in order."""

    name: str
    properties: tuple[Property, ...]
    components: tuple[Component, ...] = ()


def text(name: str, *values: str) -> Property:
    return Property(name, ValueType.TEXT, values)


def in_utc(name: str, moment: dt.datetime) -> Property:
    """An instant, in UTC, to the second."""
    return Property(name, ValueType.DATE_TIME, (moment.astimezone(dt.UTC),))


def by_the_clocks(name: str, moment: dt.datetime, zone: str) -> Property:
    """An instant as the clocks of a zone show it; UTC has no rules to be named."""
    if zone == "UTC":
        return in_utc(name, moment)
    local = moment.astimezone(ZoneInfo(zone)).replace(tzinfo=None)
    return Property(name, ValueType.DATE_TIME, (local,), (("tzid", zone),))
