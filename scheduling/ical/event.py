"""What a calendar shows: one record for each event, whatever stands behind it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum


class EventKind(StrEnum):
    """What an event is about; the value is its category in the file."""

    CLASS = "class"
    FIRING = "firing"
    DUTY = "duty"
    SEAT = "seat"
    PICK_UP = "pick-up"
    CHARGE = "charge"
    OUTAGE = "outage"


@dataclass(frozen=True, kw_only=True)
class Weekly:
    """An event that comes back every week at the same time by the clocks of its zone.

    `until` is the start that was planned for the last week; `skipped` are the planned starts at which nothing
    takes place. Both are instants; `scheduling.ical.weekly.planned_starts` gives all that were planned.
    """

    until: dt.datetime
    skipped: tuple[dt.datetime, ...] = ()


@dataclass(frozen=True, kw_only=True)
class CalendarEvent:
    """One event of a person's calendar.

    The two ends are instants; `zone` names the clocks they are shown by. An event without length marks a
    moment. `opaque` events take the person's time, the others run beside it. `page` is the name and the
    arguments of the page that tells more. `geo` is latitude and longitude.

    A `weekly` event begins with its first planned meeting. One meeting of it that is not as planned is an
    event of its own with the same uid: it `stands_for` the planned start, by the clocks of the series
    (`series_zone`, where the meeting was moved to a place with other clocks).
    """

    uid: str
    kind: EventKind
    title: str
    description: str
    location: str
    zone: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    sequence: int
    changed_at: dt.datetime
    opaque: bool
    cancelled: bool = False
    alarm_min: int | None = None
    page: tuple[str, ...] = ()
    geo: tuple[float, float] | None = None
    weekly: Weekly | None = None
    stands_for: dt.datetime | None = None
    series_zone: str = ""

    @property
    def length(self) -> dt.timedelta:
        """The time that passes between its ends, whatever the clocks do meanwhile."""
        return self.ends_at.astimezone(dt.UTC) - self.starts_at.astimezone(dt.UTC)

    def meets(self, from_at: dt.datetime, to_at: dt.datetime) -> bool:
        """Whether some of it lies in the half-open window."""
        return self.starts_at < to_at and (self.ends_at > from_at or self.starts_at >= from_at)


# The address of an event's page.
Link = Callable[[CalendarEvent], str]


@dataclass(frozen=True, kw_only=True)
class CalendarFile:
    """A calendar to be written: its name, one sentence about it, and its events in order.

    `url` is the page that shows the same, `color` a CSS name, `changed_at` when anything in it last changed.
    """

    name: str
    description: str
    events: Sequence[CalendarEvent]
    url: str = ""
    color: str = ""
    changed_at: dt.datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Party:
    """Who invites, or who is invited: a name, and an address for mail."""

    name: str
    email: str
