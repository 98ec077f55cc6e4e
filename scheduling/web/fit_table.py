"""The numbers of a calibration as they are read: beside the record in force, with intervals and errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from scheduling.selectors.calibrations import fits_of, today_at
from scheduling.templatetags.lehrbook import degrees, elapsed
from scheduling.wording import decimal
from studios.models import Calibration, Ranges, ThermalRecord
from studios.thermal.units import F_PER_K, f_from_c


@dataclass(frozen=True, kw_only=True)
class FitRow:
    """One number of a record: as it is in force, and as each fit has it with its 99 % interval."""

    name: str
    present: str
    fitted: tuple[tuple[str, str, str], ...]  # which fit, its value, its interval


@dataclass(frozen=True, kw_only=True)
class JudgedRow:
    """A fit judged by the time to the door temperature."""

    ranges: str
    offered: bool
    measured: str
    predicted: str
    error: str
    sentence: str
    warnings: tuple[str, ...]


def fit_rows(row: Calibration, unit: str) -> list[FitRow]:
    """τ, τ below the split, T∞ and what is left over, in the degrees of whoever reads them."""
    present = row.equipment.record_on(today_at(row.equipment))
    below = _("τ below %(split)s") % {"split": degrees(row.one_range["split_c"], unit)}
    rows = [
        _row(row, present, "tau_h", "τ", _Hours()),
        _row(row, present, "tau_low_h", below, _Hours()),
        _row(row, present, "ceiling_c", "T∞", _Degrees(unit)),
    ]
    missed = tuple((str(Ranges(name).label), _missed(fit["rms_k"], unit), "") for name, fit in fits_of(row))
    return [*rows, FitRow(name=_("misses the readings by (rms)"), present="", fitted=missed)]


def _missed(kelvin: float, unit: str) -> str:
    """A difference, so without the 32 degrees."""
    return f"{decimal(kelvin * (F_PER_K if unit == 'F' else 1), 2)} °{unit}"


class _Hours:
    """A number of hours, to the hundredth."""

    unit, places = "h", 2

    def shown(self, value: float) -> float:
        return value


class _Degrees(_Hours):
    """A temperature, to the degree."""

    places = 0

    def __init__(self, unit: str) -> None:
        self.unit = f"°{unit}"
        self._fahrenheit = unit == "F"

    def shown(self, value: float) -> float:
        return f_from_c(value) if self._fahrenheit else value


def _row(row: Calibration, present: ThermalRecord | None, key: str, name: str, scale: _Hours) -> FitRow:
    in_force = getattr(present, key, None)
    return FitRow(
        name=name,
        present="–" if in_force is None else f"{decimal(scale.shown(in_force), scale.places)} {scale.unit}",
        fitted=tuple((str(Ranges(which).label), *_value(fit, key, scale)) for which, fit in fits_of(row)),
    )


def _value(fit: dict[str, Any], key: str, scale: _Hours) -> tuple[str, str]:
    """A value and its interval, which is given finely enough not to look like nothing."""
    if fit[key] is None:
        return _("kept as it is") if key == "ceiling_c" else "–", ""
    low, high = (scale.shown(end) for end in fit["intervals"][key])
    places = scale.places
    while places < 4 and high - low < 10 ** (1 - places):
        places += 1
    interval = _("%(low)s to %(high)s") % {"low": decimal(low, places), "high": decimal(high, places)}
    return f"{decimal(scale.shown(fit[key]), places)} {scale.unit}", interval


def judgements(row: Calibration) -> list[JudgedRow]:
    """Measured and predicted time to the door, and the error; empty where the log has no cooling."""
    return [_judged(row, name, fit) for name, fit in fits_of(row)]


def _judged(row: Calibration, name: str, fit: dict[str, Any]) -> JudgedRow:
    judged = fit["judgement"]
    return JudgedRow(
        ranges=str(Ranges(name).label),
        offered=name == row.offered,
        measured=_("not in the log") if judged is None else elapsed(judged["measured_min"]),
        predicted="" if judged is None else elapsed(judged["predicted_min"]),
        error="" if judged is None else _error(judged),
        sentence="" if judged is None else judged["sentence"],
        warnings=tuple(fit["warnings"]),
    )


def _error(judged: dict[str, Any]) -> str:
    error_min, share = judged["error_min"], f"{decimal(100 * judged['error_share'], 1)}%"
    if abs(error_min) < 1:
        return _("within a minute")
    said = {"minutes": f"{abs(error_min):.0f}", "share": share}
    if error_min < 0:
        return _("%(minutes)s min early, %(share)s") % said
    return _("%(minutes)s min late, %(share)s") % said
