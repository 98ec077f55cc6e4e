"""How times, classes and temperatures are said to people: by the studio's clock, in the reader's units."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.utils.dateformat import format as dateformat
from django.utils.formats import get_format, number_format
from django.utils.translation import pgettext

from scheduling.models import Seat, Session
from scheduling.reader import english, spoken, units
from studios.models import Studio, Units
from studios.said import Form, degrees_said, moment_said, said, several_said

_TEMPERATURES: Mapping[str, str] = {Units.METRIC: "C", Units.US: "F"}
_LENGTHS: Mapping[str, str] = {Units.METRIC: "mm", Units.US: "in"}
MM_PER_INCH = 25.4


def temperature_unit(studio: Studio) -> Studio.TemperatureUnit:
    """C or F, as the reader chose, else as the studio says it."""
    return Studio.TemperatureUnit(_TEMPERATURES.get(units(), studio.temperature_unit))


def length_unit(studio: Studio) -> Studio.LengthUnit:
    """Millimetres or inches, as the reader chose, else as the studio says it."""
    return Studio.LengthUnit(_LENGTHS.get(units(), studio.length_unit))


def now_said(text: str) -> str:
    """What is said to whoever reads now; for the record it remembers what it was made of."""
    return text if english() and not units() else spoken(text)


def say(template: str, /, *, several: str = "", **facts: Any) -> str:
    """What a template and its facts say, to whoever reads now."""
    return spoken(said(template, several=several, **facts))


def when(moment: dt.datetime, studio: Studio) -> str:
    """A moment by the studio's clock: Tue 9 Mar 2027, 18:00 CST."""
    return now_said(moment_said(moment.astimezone(studio.zone), Form.FULL))


def dated(day: dt.date, form: str) -> str:
    """A day as Django writes it in a form, such as j F Y, and each language in its own way."""
    return dateformat(day, pgettext("date", form))


def on_day(day: dt.date) -> str:
    """A day: 9 Mar 2027."""
    return now_said(moment_said(day, Form.DAY))


def meeting(session: Session) -> str:
    """A class in one line: Beads at Flame, Tue 9 Mar 2027, 18:00 CST."""
    return now_said(
        said(
            "{course} at {studio}, {when}",
            course=session.course.name,
            studio=session.studio.name,
            when=when(session.starts_at, session.studio),
        )
    )


def long(minutes: int) -> str:
    """A length of time: 45 min, 2 h, 10 h 30 min."""
    hours, rest = divmod(minutes, 60)
    parts = [f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or hours == 0)
    return " ".join(parts)


def degrees(celsius: float, studio: Studio) -> str:
    """A temperature to the degree, in the reader's unit."""
    return now_said(degrees_said(celsius, temperature_unit(studio) == Studio.TemperatureUnit.FAHRENHEIT))


def length(millimetres: float, studio: Studio) -> str:
    """A length in the reader's unit: 120 mm, or 4.72 in."""
    return f"{_long_in(millimetres, studio)} {length_unit(studio).value}"


def sized(length_mm: float, width_mm: float, studio: Studio, *, is_round: bool = False) -> str:
    """How large a flat thing is: 140 × 90 mm, or Ø 140 mm."""
    if is_round:
        return f"Ø {length(length_mm, studio)}"
    return f"{_long_in(length_mm, studio)} × {length(width_mm, studio)}"


def _long_in(millimetres: float, studio: Studio) -> str:
    inches = length_unit(studio) == Studio.LengthUnit.INCH
    rounded = round(millimetres / MM_PER_INCH, 2) if inches else round(millimetres, 1)
    return number_format(int(rounded) if rounded == int(rounded) else rounded)


def place_of(seat: Seat) -> str:
    """A seat in one line: seat 2, torch 4, for Ida, Beads at Flame, Tue 9 Mar 2027, 18:00 CST."""
    torch = [seat.torch.name] if seat.torch is not None else []
    whose = said("for {who}", who=seat.person.name)
    if seat.session is None:
        where = said("open bench time at {studio}", studio=seat.studio.name)
        return now_said(several_said([*torch, whose, where, when(seat.starts_at, seat.studio)], ", "))
    seat_of = said("seat {number}", number=seat.number)
    return now_said(several_said([seat_of, *torch, whose, meeting(seat.session)], ", "))


def decimal(number: float | Decimal, places: int) -> str:
    """A number to so many places, with the comma of whoever reads now."""
    return f"{number:.{places}f}".replace(".", str(get_format("DECIMAL_SEPARATOR")))


def measured(number: float, unit: str) -> str:
    """A number with its unit, as short as it goes: 6.5 kW."""
    written = f"{number:g}".replace(".", str(get_format("DECIMAL_SEPARATOR")))
    return f"{written} {now_said(unit)}".rstrip()


def amount(price: Decimal, studio: Studio) -> str:
    """A price in the studio's currency: 95.00 EUR."""
    if not studio.currency:
        return now_said(said("{price:.2f}", price=price))
    return now_said(said("{price:.2f} {currency}", price=price, currency=studio.currency))
