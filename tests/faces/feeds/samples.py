"""Events as a test needs them, written into a file, and what a reader must see of them."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from typing import Any
from zoneinfo import ZoneInfo

from scheduling.ical.event import CalendarEvent, CalendarFile, EventKind
from scheduling.ical.writer import calendar_bytes
from tests.faces.feeds.readers import Seen

EVENING = dt.datetime(2027, 3, 11, 0, 0, tzinfo=dt.UTC)
FIRING = CalendarEvent(
    uid="7b0d5d3e-5c6c-4f0c-9d0f-6f5a8f1f2a10",
    kind=EventKind.FIRING,
    title="Anneal: Annealer 1",
    description="Evening Blowing.",
    location="Quillback Hot Shop, 4 Ferry Lane",
    zone="America/Chicago",
    starts_at=EVENING,
    ends_at=EVENING + dt.timedelta(hours=13),
    sequence=2,
    changed_at=dt.datetime(2027, 2, 1, 9, 30, 15, tzinfo=dt.UTC),
    opaque=False,
    page=("firing", "7b0d5d3e"),
)
Reader = Callable[[bytes], list[Seen]]


def event(**facts: Any) -> CalendarEvent:
    return dataclasses.replace(FIRING, **facts)


def written(*events: CalendarEvent) -> bytes:
    return calendar_bytes(CalendarFile(name="A week", description="A week.", events=events))


def lines(content: bytes) -> list[str]:
    """The content lines, unfolded."""
    return content.decode().replace("\r\n ", "").split("\r\n")


def local(wall: str, zone: str) -> dt.datetime:
    """The instant at which the clocks of a zone show a time."""
    return dt.datetime.fromisoformat(wall).replace(tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)


def seen(event: CalendarEvent) -> Seen:
    return Seen(
        starts_at=event.starts_at,
        ends_at=event.ends_at,
        uid=event.uid,
        title=event.title,
        description=event.description,
        status="CANCELLED" if event.cancelled else "CONFIRMED",
        transparency="OPAQUE" if event.opaque and not event.cancelled else "TRANSPARENT",
    )
