"""What a calendar shows: one record for each event, whatever stands behind it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum


class EventKind(StrEnum):
    """What an event is about; the value is its category in the file."""

    CLASS = "class"
    FIRING = "firing"
    DUTY = "duty"
    SEAT = "seat"
    PICK_UP = "pick-up"


@dataclass(frozen=True, kw_only=True)
class CalendarEvent:
    """One event of a person's calendar.

    The two ends are instants; `zone` names the clocks they are shown by. An event without length marks a
    moment. `opaque` events take the person's time, the others run beside it. `page` is the name and the
    arguments of the page that tells more.
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

    def meets(self, from_at: dt.datetime, to_at: dt.datetime) -> bool:
        """Whether some of it lies in the half-open window."""
        return self.starts_at < to_at and (self.ends_at > from_at or self.starts_at >= from_at)
