"""How the commands say what they found."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from zoneinfo import ZoneInfo

from django.core.management.base import CommandError
from django.urls import reverse

from scheduling.engine.clock import floor_minutes, local
from scheduling.models import Seat, Session
from studios.errors import LehrbookError

SERVED_AT = "http://127.0.0.1:8000"


@contextmanager
def plain_errors() -> Iterator[None]:
    """Turn a refusal into the one line that the terminal shows."""
    try:
        yield
    except LehrbookError as error:
        raise CommandError(str(error)) from error


def page(address: str, name: str, query: str = "") -> str:
    """The address of a page as a browser takes it."""
    return f"{address.rstrip('/')}{reverse(name)}{query}"


def day_time(when: dt.datetime | int, zone: ZoneInfo) -> str:
    """A moment by the clocks of a zone: Tue  9 Mar 18:00."""
    here = local(when if isinstance(when, int) else floor_minutes(when), zone)
    return f"{here:%a} {here.day:2d} {here:%b %H:%M}"


def meeting(session: Session) -> str:
    """A session in a line: what, where, when and with whom."""
    zone = session.studio.zone
    until = local(floor_minutes(session.ends_at), zone)
    return (
        f"{session.course} at {session.studio}, {day_time(session.starts_at, zone)} to {until:%H:%M}, "
        f"with {session.instructor}{_assisting(session)}"
    )


def _assisting(session: Session) -> str:
    names = [person.name for person in session.assistants.order_by("name")]
    return f", assisting: {', '.join(names)}" if names else ""


def place_taken(seat: Seat) -> str:
    """A seat in a line: which torch or seat, whose, when and where."""
    zone = seat.studio.zone
    when = f"{day_time(seat.starts_at, zone)} to {local(floor_minutes(seat.ends_at), zone):%H:%M}"
    where = str(seat.torch or f"seat {seat.number}")
    what = seat.session.course.name if seat.session else "open bench time"
    return f"{where} at {seat.studio} for {seat.person}, {when}, {what}"


def table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as lines of aligned columns."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    padded = ([cell.ljust(width) for cell, width in zip(row, widths, strict=True)] for row in rows)
    return ["  ".join(cells).rstrip() for cells in padded]
