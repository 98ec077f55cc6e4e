"""How times, classes and temperatures are said to people: by the studio's clock, in the reader's units."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from decimal import Decimal

from scheduling.models import Seat, Session
from studios.models import Studio, Units
from studios.thermal.units import f_from_c

# Of whoever reads this page; mails, calendars and the API have no reader, and keep each studio's units.
_units: ContextVar[str] = ContextVar("units", default="")
_TEMPERATURES: Mapping[str, str] = {Units.METRIC: "C", Units.US: "F"}
_LENGTHS: Mapping[str, str] = {Units.METRIC: "mm", Units.US: "in"}


@contextmanager
def read_in_units(units: str) -> Iterator[None]:
    """What is said meanwhile is read by somebody who chose these units; empty: those of each studio."""
    before = _units.set(units)
    try:
        yield
    finally:
        _units.reset(before)


def temperature_unit(studio: Studio) -> Studio.TemperatureUnit:
    """C or F, as the reader chose, else as the studio says it."""
    return Studio.TemperatureUnit(_TEMPERATURES.get(_units.get(), studio.temperature_unit))


def length_unit(studio: Studio) -> Studio.LengthUnit:
    """Millimetres or inches, as the reader chose, else as the studio says it."""
    return Studio.LengthUnit(_LENGTHS.get(_units.get(), studio.length_unit))


def when(moment: dt.datetime, studio: Studio) -> str:
    """A moment by the studio's clock: Tue 9 Mar 2027, 18:00 CST."""
    local = moment.astimezone(studio.zone)
    return f"{local:%a} {local.day} {local:%b %Y, %H:%M %Z}"


def meeting(session: Session) -> str:
    """A class in one line: Beads at Flame, Tue 9 Mar 2027, 18:00 CST."""
    return f"{session.course.name} at {session.studio.name}, {when(session.starts_at, session.studio)}"


def long(minutes: int) -> str:
    """A length of time: 45 min, 2 h, 10 h 30 min."""
    hours, rest = divmod(minutes, 60)
    parts = [f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or hours == 0)
    return " ".join(parts)


def degrees(celsius: float, studio: Studio) -> str:
    """A temperature to the degree, in the reader's unit."""
    fahrenheit = temperature_unit(studio) == Studio.TemperatureUnit.FAHRENHEIT
    return f"{f_from_c(celsius):.0f} °F" if fahrenheit else f"{celsius:.0f} °C"


def place_of(seat: Seat) -> str:
    """A seat in one line: seat 2, torch 4, for Ida, Beads at Flame, Tue 9 Mar 2027, 18:00 CST."""
    torch = [seat.torch.name] if seat.torch is not None else []
    if seat.session is None:
        where = [f"open bench time at {seat.studio.name}", when(seat.starts_at, seat.studio)]
        return ", ".join([*torch, f"for {seat.person.name}", *where])
    return ", ".join([f"seat {seat.number}", *torch, f"for {seat.person.name}", meeting(seat.session)])


def amount(price: Decimal, studio: Studio) -> str:
    """A price in the studio's currency: 95.00 EUR."""
    return f"{price:.2f} {studio.currency}".strip()
