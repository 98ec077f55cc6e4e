"""The numbers of a calibration as they are read: beside the record in force, with intervals and errors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scheduling.selectors.calibrations import fits_of, today_at
from scheduling.templatetags.lehrbook import elapsed
from studios.models import Calibration, Ranges, ThermalRecord


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


def fit_rows(row: Calibration) -> list[FitRow]:
    """τ, τ below the split, T∞ and what is left over."""
    present = row.equipment.record_on(today_at(row.equipment))
    split_c = row.one_range["split_c"]
    names = (
        ("tau_h", "τ", "h", 2),
        ("tau_low_h", f"τ below {split_c:g} °C", "h", 2),
        ("ceiling_c", "T∞", "°C", 0),
    )
    rows = [_row(row, present, *each) for each in names]
    missed = tuple((Ranges(name).label, f"{fit['rms_k']:.2f} K", "") for name, fit in fits_of(row))
    return [*rows, FitRow(name="misses the readings by (rms)", present="", fitted=missed)]


def _row(
    row: Calibration, present: ThermalRecord | None, key: str, name: str, unit: str, places: int
) -> FitRow:
    in_force = getattr(present, key, None)
    return FitRow(
        name=name,
        present="–" if in_force is None else f"{in_force:.{places}f} {unit}",
        fitted=tuple((Ranges(which).label, *_value(fit, key, unit, places)) for which, fit in fits_of(row)),
    )


def _value(fit: dict[str, Any], key: str, unit: str, places: int) -> tuple[str, str]:
    """A value and its interval, which is given finely enough not to look like nothing."""
    if fit[key] is None:
        return "kept as it is" if key == "ceiling_c" else "–", ""
    low, high = fit["intervals"][key]
    while places < 4 and high - low < 10 ** (1 - places):
        places += 1
    return f"{fit[key]:.{places}f} {unit}", f"{low:.{places}f} to {high:.{places}f}"


def judgements(row: Calibration) -> list[JudgedRow]:
    """Measured and predicted time to the door, and the error; empty where the log has no cooling."""
    return [_judged(row, name, fit) for name, fit in fits_of(row)]


def _judged(row: Calibration, name: str, fit: dict[str, Any]) -> JudgedRow:
    judged = fit["judgement"]
    return JudgedRow(
        ranges=Ranges(name).label,
        offered=name == row.offered,
        measured="not in the log" if judged is None else elapsed(judged["measured_min"]),
        predicted="" if judged is None else elapsed(judged["predicted_min"]),
        error="" if judged is None else _error(judged),
        sentence="" if judged is None else judged["sentence"],
        warnings=tuple(fit["warnings"]),
    )


def _error(judged: dict[str, Any]) -> str:
    error_min = judged["error_min"]
    if abs(error_min) < 1:
        return "within a minute"
    way = "early" if error_min < 0 else "late"
    return f"{abs(error_min):.0f} min {way}, {judged['error_share']:.1%}"
