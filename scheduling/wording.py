"""How times and classes are said to people: by the studio's clock, with its zone named."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from scheduling.models import Seat, Session
from studios.models import Studio
from studios.thermal.units import f_from_c


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
    """A temperature to the degree, in the studio's unit."""
    fahrenheit = studio.temperature_unit == Studio.TemperatureUnit.FAHRENHEIT
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
