"""A fitted log in lines: what was left out, the numbers beside the record, the judgement, what would move."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from scheduling.engine.clock import floor_minutes
from scheduling.management.wording import day_time, table
from scheduling.selectors.calibrations import Moved, fits_of, today_at
from studios.models import Calibration, Ranges, Studio

KINDS = {"cooling": "cooling by itself", "full-power": "heating at full power"}
MOST_PRINTED = 20


def notice_lines(row: Calibration) -> Iterator[str]:
    """What was left out of the log and why, and the stretches that were used."""
    yield f"{row.file_name}: {row.reading_count} readings."
    yield from row.notices[:MOST_PRINTED]
    if len(row.notices) > MOST_PRINTED:
        yield f"And {len(row.notices) - MOST_PRINTED} more notices."
    for stretch in row.stretches:
        how = "found" if stretch["found"] else "as marked"
        span = f"{_clock(stretch['from_min'])} to {_clock(stretch['to_min'])}"
        yield f"{KINDS[stretch['kind']].capitalize()}: {span} ({how})."


def fit_lines(row: Calibration) -> list[str]:
    """Each number with its 99 % interval beside the record in force, and what each fit comes to."""
    lines = table([("", "in force", *_headings(row)), *_numbers(row)])
    for name, fit in fits_of(row):
        lines += [f"{Ranges(name).label.capitalize()}: {said}" for said in _judgement(fit)]
    return [*lines, f"Offered: {row.get_offered_display()}."]


def _headings(row: Calibration) -> list[str]:
    return [f"{Ranges(name).label} (99 % interval)" for name, _ in fits_of(row)]


def _numbers(row: Calibration) -> Iterator[Sequence[str]]:
    record = row.equipment.record_on(today_at(row.equipment))
    split = f"τ below {row.one_range['split_c']:g} °C"
    for key, name, form in (
        ("tau_h", "τ (h)", ".3f"),
        ("tau_low_h", f"{split} (h)", ".3f"),
        ("ceiling_c", "T∞ (°C)", ".1f"),
    ):
        present = getattr(record, key, None)
        in_force = "-" if present is None else f"{present:{form}}"
        yield name, in_force, *(_fitted(fit, key, form) for _, fit in fits_of(row))
    yield "misses by (K, rms)", "", *(f"{fit['rms_k']:.2f}" for _, fit in fits_of(row))


def _fitted(fit: dict[str, Any], key: str, form: str) -> str:
    if fit[key] is None:
        return "-"
    low, high = fit["intervals"][key]
    return f"{fit[key]:{form}} ({low:{form}} to {high:{form}})"


def _judgement(fit: dict[str, Any]) -> list[str]:
    judged = fit["judgement"]
    if judged is None:
        return list(fit["warnings"])
    times = f"{_clock(judged['measured_min'])} measured, {_clock(judged['predicted_min'])} predicted"
    error = f"{judged['error_min']:+.0f} min ({judged['error_share']:.1%})"
    return [f"to {judged['judged_c']:.0f} °C {times}, {error}. {judged['sentence']}"]


def moved_lines(words: str, moved: Sequence[Moved], studio: Studio) -> list[str]:
    """The booked firings that keep their hours although a fit says others."""
    if not moved:
        return [f"{words} no booked firing would be cool at another time by more than 15 minutes."]
    rows = [("firing", "concerns", "cool, as booked", "cool, by this fit", "difference")]
    rows += [_moved(one, studio) for one in moved]
    return [f"{words} these would be cool at another time; they keep their hours:", *table(rows)]


def _moved(one: Moved, studio: Studio) -> tuple[str, str, str, str, str]:
    begins = day_time(floor_minutes(one.firing.at_hold_at), studio.zone)
    would_be = one.why if one.would_be_cool_at is None else day_time(one.would_be_cool_at, studio.zone)
    return begins, one.concerns, day_time(one.cool_at, studio.zone), would_be, one.difference


def _clock(minutes: float) -> str:
    whole = round(minutes)
    return f"{whole // 60}:{whole % 60:02d}"
