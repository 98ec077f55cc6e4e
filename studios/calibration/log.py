"""A log of one firing as a logger or a controller wrote it, read with everything odd told by its line."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from studios.calibration.clean import Reading, gaps, merged, out_of_order, told, without_drop_outs
from studios.calibration.clock import Elapsed, Written, read_minutes, written
from studios.calibration.errors import (
    EmptyLog,
    NoTimePasses,
    TemperatureUnitsDisagree,
    TemperatureUnitUnknown,
    TooFewReadings,
)
from studios.calibration.table import Row, Table, Unit, read_table
from studios.said import said
from studios.thermal.units import c_from_f

LEAST_READINGS = 12
_SUFFIX = re.compile(r"\s*(?:°|º|deg)?\s*([cf])$", re.IGNORECASE)
_ON = {"on", "true", "yes", "heating", "heat", "full", "closed"}
_OFF = {"off", "false", "no", "idle", "open", "none"}


@dataclass(frozen=True, kw_only=True)
class Log:
    """Readings in order of time: minutes from the first, °C, and the share of full power where it is logged.

    `notices` tell every line that was merged, moved or left out, and why; `unit` is what the file was in.
    `first_min` is when the first was read, counted as the times are `written`.
    """

    minutes: tuple[float, ...]
    temps_c: tuple[float, ...]
    heating: tuple[float, ...] | None = None
    unit: Unit = "C"
    notices: tuple[str, ...] = ()
    first_min: float = 0.0
    written: Written = Written.ELAPSED

    @property
    def ends_min(self) -> float:
        return self.minutes[-1]


def read_log(
    source: str | bytes,
    *,
    unit: Unit | None = None,
    elapsed: Elapsed | None = None,
    day_first: bool | None = None,
) -> Log:
    """A log of time and temperature, divided by commas, semicolons or tabs, with a header or none.

    `unit` where the header does not name °C or °F; `elapsed` where the time is a bare number and the header
    does not say of what; `day_first` where a date can be read in two ways. Rows written twice count once,
    rows out of order are put in order, what the thermocouple cannot have measured is left out; all of it is
    told. At most 5 MB and 500,000 rows. Raises a leaf of LogError.
    """
    table = read_table(source)
    if not table.rows:
        raise EmptyLog(field="log")
    counted = elapsed or table.columns.elapsed
    minutes = read_minutes(table.stamps(), elapsed=counted, day_first=day_first)
    known = _unit(table, unit)
    notices = list(table.columns.notices)
    readings = _readings(table, minutes, known, notices)
    _require_time(readings)
    for step in (out_of_order, merged, without_drop_outs):
        readings, said = step(readings)
        notices += said
    _require_enough(readings)
    log = _log(readings, known, [*notices, *gaps(readings)])
    return replace(log, written=written(table.stamps()))


def _unit(table: Table, asked: Unit | None) -> Unit:
    named, line = table.columns.unit, table.columns.unit_line
    if named is None:
        named, line = _unit_of_cells(table)
    if named is None and asked is None:
        raise TemperatureUnitUnknown(field="unit")
    if named is not None and asked is not None and named != asked:
        raise TemperatureUnitsDisagree(field="unit", asked=asked, named=named, line=line)
    return "F" if "F" in (named, asked) else "C"


def _unit_of_cells(table: Table) -> tuple[Unit | None, int | None]:
    """The unit written behind the first temperature, as in “510 °C”."""
    for row in table.rows[:100]:
        cell = row.cell(table.columns.temperature)
        found = _SUFFIX.search(cell) if cell[:1].isdigit() else None
        if found:
            return ("F" if found[1].upper() == "F" else "C"), row.line
    return None, None


def _readings(table: Table, minutes: Sequence[float | None], unit: Unit, notices: list[str]) -> list[Reading]:
    no_time: list[int] = []
    no_temperature: list[int] = []
    readings: list[Reading] = []
    for row, minute in zip(table.rows, minutes, strict=True):
        degrees = _number(row.cell(table.columns.temperature))
        if minute is None:
            no_time.append(row.line)
        elif degrees is None:
            no_temperature.append(row.line)
        else:
            readings.append(_reading(row, minute, degrees, unit, table.columns.heating))
    notices += told(no_time, said("no time that can be read; left out."))
    dropped = said("no temperature: the thermocouple dropped out; left out.")
    notices += told(no_temperature, dropped)
    return readings


def _reading(row: Row, minute: float, degrees: float, unit: Unit, heating: int | None) -> Reading:
    temp_c = c_from_f(degrees) if unit == "F" else degrees
    return Reading(minute=minute, temp_c=temp_c, line=row.line, heating=_share(row.cell(heating)))


def _number(cell: str) -> float | None:
    """A number with a decimal point or comma, perhaps with its unit; None for text, a blank or nan."""
    text = _SUFFIX.sub("", cell).replace(" ", "")
    if "," in text and "." in text:
        thousands = "," if text.rindex(".") > text.rindex(",") else "."
        text = text.replace(thousands, "")
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return None if math.isnan(value) else value


def _share(cell: str) -> float | None:
    """Heating on or off, or percent of full power; None for a blank."""
    word = cell.strip().lower()
    if word in _ON:
        return 100.0
    if word in _OFF:
        return 0.0
    value = _number(word.removesuffix("%"))
    return value if value is not None and 0 <= value <= 100 else None


def _require_time(readings: Sequence[Reading]) -> None:
    if len(readings) > 1 and len({reading.minute for reading in readings}) == 1:
        raise NoTimePasses(field="log")


def _require_enough(readings: Sequence[Reading]) -> None:
    if len(readings) < LEAST_READINGS:
        raise TooFewReadings(field="log", count=len(readings), least=LEAST_READINGS)


def _log(readings: Sequence[Reading], unit: Unit, notices: Sequence[str]) -> Log:
    starts = readings[0].minute
    return Log(
        minutes=tuple(reading.minute - starts for reading in readings),
        temps_c=tuple(reading.temp_c for reading in readings),
        heating=_heating(readings),
        unit=unit,
        notices=tuple(notices),
        first_min=starts,
    )


def _heating(readings: Sequence[Reading]) -> tuple[float, ...] | None:
    """The share of full power, 0 to 1; a column of 0 and 1 is off and on; a blank keeps what was before."""
    told_of = [reading.heating for reading in readings]
    known = [each for each in told_of if each is not None]
    if not known:
        return None
    full = 1.0 if max(known) <= 1 else 100.0
    shares: list[float] = []
    for each in told_of:
        shares.append(each / full if each is not None else (shares[-1] if shares else 1.0))
    return tuple(shares)
