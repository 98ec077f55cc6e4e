"""Numbers that are shown and typed in the reader's unit, and stored in one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scheduling.web.numbers import NumberField, number_written
from scheduling.wording import length_unit, temperature_unit
from studios.models import Studio

MM_PER_INCH = 25.4
DIGITS = 4


@dataclass(frozen=True, kw_only=True)
class Unit:
    """How a stored number is shown: times `scale`, plus `zero`."""

    sign: str
    scale: float = 1.0
    zero: float = 0.0

    def shown(self, stored: float) -> float:
        return _plain(stored * self.scale + self.zero)

    def said(self, stored: float) -> str:
        """With its sign, as a sentence has it: 482 °C."""
        return f"{number_written(self.shown(stored))} {self.sign}".rstrip()

    def stored(self, shown: float) -> float:
        return _plain((shown - self.zero) / self.scale)


def _plain(number: float) -> float:
    """Whole numbers without a point: 482, 0.25."""
    rounded = round(number, DIGITS)
    return int(rounded) if rounded == int(rounded) else rounded


@dataclass(frozen=True, kw_only=True)
class Units:
    """The units that somebody reads a studio's numbers in."""

    degrees: Unit
    difference: Unit
    rate: Unit
    length: Unit
    area: Unit


CELSIUS = {"degrees": Unit(sign="°C"), "difference": Unit(sign="K"), "rate": Unit(sign="°C/h")}
FAHRENHEIT = {
    "degrees": Unit(sign="°F", scale=1.8, zero=32.0),
    "difference": Unit(sign="°F", scale=1.8),
    "rate": Unit(sign="°F/h", scale=1.8),
}
MILLIMETRES = {"length": Unit(sign="mm"), "area": Unit(sign="cm²")}
INCHES = {
    "length": Unit(sign="in", scale=1 / MM_PER_INCH),
    "area": Unit(sign="in²", scale=100 / MM_PER_INCH**2),
}


def units_of(studio: Studio) -> Units:
    """As the reader chose, else as the studio says."""
    fahrenheit = temperature_unit(studio) == Studio.TemperatureUnit.FAHRENHEIT
    inches = length_unit(studio) == Studio.LengthUnit.INCH
    return Units(**(FAHRENHEIT if fahrenheit else CELSIUS), **(INCHES if inches else MILLIMETRES))


class MeasuredField(NumberField):
    """A number in a unit of the reader's; what was typed stays as it was typed."""

    def __init__(self, *, unit: Unit, whole: bool = False, **facts: Any) -> None:
        super().__init__(**facts)
        self.unit, self.whole = unit, whole

    def prepare_value(self, value: Any) -> Any:
        """Stored numbers are shown in the unit; what somebody typed comes as text, and stays."""
        if isinstance(value, int | float) and not isinstance(value, bool):
            return self.unit.shown(value)
        return value

    def to_python(self, value: Any) -> float | None:  # type: ignore[override]  # as of FloatField itself
        typed = super().to_python(value)
        if typed is None:
            return None
        stored = self.unit.stored(typed)
        return round(stored) if self.whole else stored
