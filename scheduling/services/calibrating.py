"""Calibrating: a log is fitted to a piece of equipment, and a fit becomes its record from a day on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from django.utils import timezone

from scheduling.errors import DayHasRecord, InvalidInput, NoRecord, NotAllowed, NotConfirmed, Over
from scheduling.selectors.calibrations import Moved, Numbers, today_at, would_move
from scheduling.services import audit
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import LAST_YEAR
from studios import calibration as pure
from studios.calibration.clock import Elapsed
from studios.calibration.offer import warnings_of
from studios.calibration.table import Unit
from studios.models import Calibration, Equipment, Person, Ranges, ThermalRecord
from studios.said import said
from studios.selectors import may
from studios.thermal import Body

MOST_DRAWN = 600
MOST_NOTICES = 200
LONGEST_NAME = 120
LONGEST_SOURCE = 200
MARKED_AS = re.compile(r"(?P<hours>[0-9]{1,4}):(?P<rest>[0-5][0-9])|(?P<minutes>[0-9]{1,6}(?:\.[0-9]+)?)")


@dataclass(frozen=True, kw_only=True)
class Accepted:
    """The record that a fit became, and the booked firings that keep their hours although it says others."""

    record: ThermalRecord
    moved: tuple[Moved, ...]


def fit_log(*, actor: Person, equipment: Equipment, **log: Any) -> Calibration:
    """Fit a log to equipment (see `fitted`) and keep what came of it; the record in force stays as it is.

    Raises NotAllowed and what `fitted` raises.
    """
    require_calibrator(actor, equipment)
    row = fitted(equipment=equipment, **log)
    row.made_by = actor
    _keep(row)
    return row


@one_write
def _keep(row: Calibration) -> None:
    """Fitting takes long and needs no transaction; only what came of it is written in one."""
    row.save()
    _note(row.made_by, "fit-log", row, row.file_name)


def _note(actor: Person | None, did: str, row: Calibration, what: str) -> None:
    equipment = row.equipment
    audit.note(actor=actor, did=did, subject=row, studio=equipment.studio, said=f"{equipment.name}: {what}")


def fitted(
    *,
    equipment: Equipment,
    log: str | bytes,
    file_name: str,
    ambient_c: float | None = None,
    unit: Unit | None = None,
    elapsed: Elapsed | None = None,
    day_first: bool | None = None,
    marks: Sequence[pure.Mark] = (),
) -> Calibration:
    """What a log says of a piece of equipment; nothing is stored.

    `ambient_c` was the room's during the log; without it, that of the record with its season. Raises
    NoRecord, LogError or FitError (with line and reason), OutOfRange or DoorBelowAmbient.
    """
    body = _body_during(equipment, ambient_c)
    read = pure.read_log(log, unit=unit, elapsed=elapsed, day_first=day_first)
    found = pure.calibrate(
        read, ambient_c=body.ambient_c, door_c=body.opening_c, split_c=body.split_c, stretches=marks or None
    )
    return Calibration(
        equipment=equipment,
        file_name=_plain(file_name),
        ambient_c=body.ambient_c,
        door_c=body.opening_c,
        **_kept(read, found),
    )


def log_minutes(text: str) -> float:
    """A moment of a log as it is typed: h:mm from its first reading, or minutes. Raises InvalidInput."""
    typed = MARKED_AS.fullmatch(text.strip())
    if typed is None:
        raise InvalidInput(
            field="stretches", problem=said("Write hours and minutes from the first reading, such as 3:20.")
        )
    if typed["hours"] is None:
        return float(typed["minutes"])
    return int(typed["hours"]) * 60.0 + int(typed["rest"])


def require_calibrator(actor: Person, equipment: Equipment) -> None:
    """Technicians and managers calibrate. Raises NotAllowed."""
    if not may(actor, "calibrate", equipment.studio):
        raise NotAllowed(
            who=actor.name,
            what=said("calibrate equipment"),
            studio=equipment.studio.name,
            role=said("technician"),
        )


def _body_during(equipment: Equipment, ambient_c: float | None) -> Body:
    body = equipment.body_on(today_at(equipment))
    if body is None:
        raise NoRecord(field="equipment", equipment=equipment.name)
    return body if ambient_c is None else replace(body, ambient_c=ambient_c)


def _plain(file_name: str) -> str:
    """The last part of a file's name, in letters that can be stored and read."""
    last = re.split(r"[\\/]", file_name)[-1]
    return "".join(letter for letter in last if letter.isprintable()).strip()[-LONGEST_NAME:] or "log"


def _kept(log: pure.Log, found: pure.Calibration) -> dict[str, Any]:
    drawn = _thinned(len(log.minutes))
    two = None if found.two_range is None else _stored(log, found.two_range, found.log_warnings)
    return {
        "reading_count": len(log.minutes),
        "readings": [[round(log.minutes[n], 2), round(log.temps_c[n], 2)] for n in drawn],
        "notices": _few(found.notices),
        "stretches": [asdict(stretch) for stretch in found.stretches],
        "one_range": _stored(log, found.one_range, found.log_warnings),
        "two_range": two,
        "offered": Ranges.TWO if found.offered is found.two_range else Ranges.ONE,
    }


def _thinned(count: int) -> list[int]:
    """At most so many places of a row, evenly, the first and the last among them."""
    if count <= MOST_DRAWN:
        return list(range(count))
    return sorted({round(n * (count - 1) / (MOST_DRAWN - 1)) for n in range(MOST_DRAWN)})


def _few(notices: Sequence[str]) -> list[str]:
    more = len(notices) - MOST_NOTICES
    return [*notices[:MOST_NOTICES], *([f"And {more} more of the kind."] if more > 0 else [])]


def _stored(log: pure.Log, fit: pure.Fit, of_log: Sequence[str]) -> dict[str, Any]:
    """A fit as it is kept: its numbers, intervals and judgement, and as much of its curve as is drawn."""
    return {
        "tau_h": round(fit.tau_h, 4),
        "tau_low_h": None if fit.tau_low_h is None else round(fit.tau_low_h, 4),
        "split_c": fit.split_c,
        "ceiling_c": None if fit.ceiling_c is None else round(fit.ceiling_c, 1),
        "intervals": {each.name: [each.low, each.high] for each in fit.intervals},
        "rms_k": fit.rms_k,
        "judgement": None if fit.judgement is None else _judged(fit.judgement),
        "warnings": [*warnings_of(fit), *of_log],
        "curves": [list(_curve(log, part)) for part in fit.residuals],
    }


def _judged(judgement: pure.Judgement) -> dict[str, Any]:
    derived = {name: getattr(judgement, name) for name in ("error_min", "error_share", "says_open_early")}
    return {**asdict(judgement), **derived}


def _curve(log: pure.Log, part: pure.Residuals) -> Iterator[list[float]]:
    """Minute, fitted °C, and measured less fitted, of a stretch."""
    for place in _thinned(len(part.minutes)):
        measured_c, off_k = log.temps_c[part.stretch.first + place], part.kelvin[place]
        yield [round(part.minutes[place], 2), round(measured_c - off_k, 3), round(off_k, 3)]


@one_write
def accept_fit(
    *,
    actor: Person,
    calibration: Calibration,
    ranges: str,
    valid_from: dt.date,
    although_early: bool = False,
) -> Accepted:
    """Make a fit the equipment's record from a day on; firings already booked keep their hours.

    Power, ramp limit, ambient and door temperature stay those of the record in force, and so does the ceiling
    where the log had no full-power stretch. What the fit warns of (it says 'open' early, it could not be
    checked down to the door) must be accepted knowingly. Raises NotAllowed, InvalidInput, Over, DayHasRecord,
    NotConfirmed or a ThermalError.
    """
    require_calibrator(actor, calibration.equipment)
    lock(equipment=[calibration.equipment_id])
    row = Calibration.objects.select_related("equipment__studio", "record").get(pk=calibration.pk)
    fit = _fit_to_accept(row, ranges)
    _require_day(row.equipment, valid_from)
    if fit["warnings"] and not although_early:
        raise NotConfirmed(field="although_early", warning=" ".join(fit["warnings"]))
    record = _record(row, fit, valid_from)
    record.as_thermal()
    moved = would_move(equipment=row.equipment, numbers=Numbers.of_fit(fit), from_day=valid_from)
    record.save()
    row.record, row.accepted_ranges, row.accepted_by, row.accepted_at = record, ranges, actor, timezone.now()
    row.save(update_fields=["record", "accepted_ranges", "accepted_by", "accepted_at"])
    _note(actor, "accept-fit", row, f"{row.file_name} is its record from {valid_from} on")
    return Accepted(record=record, moved=moved)


def _fit_to_accept(row: Calibration, ranges: str) -> dict[str, Any]:
    if row.record is not None:
        raise Over(
            what=row.file_name,
            why=said("is already the record from {valid_from}", valid_from=row.record.valid_from),
        )
    fit = row.fit(ranges) if ranges in Ranges.values else None
    if fit is None:
        raise InvalidInput(field="ranges", problem=said("The log has no such fit; choose one that it has."))
    return fit


def _require_day(equipment: Equipment, day: dt.date) -> None:
    """From today on, and only one record from a day."""
    if day < today_at(equipment):
        raise InvalidInput(
            field="valid_from", problem=said("A record is not made in the past: today or later.")
        )
    if day.year >= LAST_YEAR:
        raise InvalidInput(
            field="valid_from",
            problem=said("The book goes to {last_year}; choose a day in it.", last_year=LAST_YEAR),
        )
    if equipment.thermal_records.filter(valid_from=day).exists():
        raise DayHasRecord(field="valid_from", equipment=equipment.name, day=day)


def _record(row: Calibration, fit: dict[str, Any], day: dt.date) -> ThermalRecord:
    """The record in force on that day with the numbers of the fit; not yet stored."""
    before = row.equipment.record_on(day)
    if before is None:
        raise NoRecord(field="equipment", equipment=row.equipment.name)
    return ThermalRecord(
        equipment=row.equipment,
        valid_from=day,
        tau_h=fit["tau_h"],
        tau_low_h=fit["tau_low_h"],
        split_c=fit["split_c"],
        ceiling_c=before.ceiling_c if fit["ceiling_c"] is None else fit["ceiling_c"],
        power_kw=before.power_kw,
        ramp_limit_c_per_h=before.ramp_limit_c_per_h,
        ambient_c=before.ambient_c,
        door_c=before.door_c,
        source=_source(row, fit),
    )


def _source(row: Calibration, fit: dict[str, Any]) -> str:
    """Where the numbers come from; a long name of a file gives way to the intervals."""
    made_on = row.made_at.astimezone(row.equipment.studio.zone).date()
    units = {"tau_h": ("τ", "h", 2), "tau_low_h": ("τ below the split", "h", 2), "ceiling_c": ("T∞", "°C", 0)}
    bounds = [
        f"{units[name][0]} {low:.{units[name][2]}f} to {high:.{units[name][2]}f} {units[name][1]}"
        for name, (low, high) in fit["intervals"].items()
    ]
    early = "; accepted although it warns" if fit["warnings"] else ""
    rest = f" of {made_on}; 99 % intervals {', '.join(bounds)}{early}"
    return f"fitted from {row.file_name[: LONGEST_SOURCE - len(rest) - 12]}{rest}"
