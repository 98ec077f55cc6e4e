"""Fit a log to a piece of equipment, and make the fit its record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import transaction

from scheduling.management.base import HouseCommand
from scheduling.management.calibrated.drawn import draw
from scheduling.management.calibrated.printed import fit_lines, moved_lines, notice_lines
from scheduling.management.figures import require_format
from scheduling.management.lookups import day_typed, equipment_named, person_with, studio_named
from scheduling.management.wording import plain_errors
from scheduling.selectors.calibrations import fits_of, moved_by
from scheduling.services.calibrating import accept_fit, fit_log, fitted, log_minutes
from studios.calibration import Kind, Mark
from studios.calibration.table import LARGEST_BYTES
from studios.models import Calibration, Ranges


class Command(HouseCommand):
    help = (
        "Fit a log of a cooling with the heat off, a heating at full power, or both, to a piece of "
        "equipment. Nothing is kept unless --accept makes a fit the record."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE", help="CSV: time, temperature")
        parser.add_argument("--studio", required=True, metavar="SLUG")
        parser.add_argument("--equipment", required=True, metavar="NAME")
        _reading(parser)
        _accepting(parser)
        parser.add_argument(
            "--figure", type=Path, metavar="FILE", help="draw log, fit and residuals, as .svg or .png"
        )

    def handle(self, *_args: Any, **options: Any) -> None:
        _require_together(options)
        with plain_errors():
            if options["figure"] is not None:
                require_format(options["figure"])
            with transaction.atomic():
                lines = _calibrate(options)
        self.stdout.write("\n".join(lines))


def _reading(parser: CommandParser) -> None:
    parser.add_argument("--ambient-c", type=float, metavar="C", help="during the log; else the record's")
    parser.add_argument("--unit", choices=("C", "F"), help="where the header does not say")
    parser.add_argument("--time-unit", choices=("s", "min", "h"), help="where the time is a bare number")
    parser.add_argument(
        "--dates", choices=("day-first", "month-first"), help="where 3/5/2027 can be two days"
    )
    for name, what in (("cooling", "cooling by itself"), ("full-power", "heating at full power")):
        parser.add_argument(
            f"--{name}", nargs=2, metavar=("FROM", "TO"), help=f"{what}: h:mm from the first reading"
        )


def _accepting(parser: CommandParser) -> None:
    parser.add_argument("--accept", choices=Ranges.values, help="make this fit the record; with --from")
    parser.add_argument("--from", metavar="DAY", dest="valid_from", help="the day from which it counts")
    parser.add_argument("--by", metavar="E-MAIL", help="who accepts it: a technician or manager")
    parser.add_argument(
        "--although-early",
        action="store_true",
        help="accept it although it says 'open' early, or could not be checked",
    )


def _require_together(options: dict[str, Any]) -> None:
    given = [options[name] is not None for name in ("accept", "valid_from", "by")]
    if any(given) and not all(given):
        raise CommandError(
            "--accept, --from and --by go together: which fit, from which day on, and by whom."
        )


def _calibrate(options: dict[str, Any]) -> list[str]:
    """Read and fit; keep it only to accept it. A figure that cannot be written undoes the accepting."""
    equipment = equipment_named(studio_named(options["studio"]), options["equipment"])
    log = _log(options)
    if options["accept"] is None:
        row = fitted(equipment=equipment, **log)
        lines = [*_found(row), *_would_move(row)]
    else:
        day = day_typed(options["valid_from"])
        row = fit_log(actor=person_with(options["by"]), equipment=equipment, **log)
        lines = [*_found(row), *_accepted(row, day, options)]
    if options["figure"] is not None:
        draw(row, options["figure"])
        lines.append(f"The log and its fits stand in {options['figure']}.")
    return lines


def _log(options: dict[str, Any]) -> dict[str, Any]:
    return {
        "log": _read(options["file"]),
        "file_name": options["file"].name,
        "ambient_c": options["ambient_c"],
        "unit": options["unit"],
        "elapsed": options["time_unit"],
        "day_first": {"day-first": True, "month-first": False}.get(options["dates"]),
        "marks": _marks(options),
    }


def _read(path: Path) -> bytes:
    """One byte more than a log may have is enough to be refused for it."""
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.") from error


def _marks(options: dict[str, Any]) -> list[Mark]:
    return [
        Mark(kind=kind, from_min=log_minutes(marked[0]), to_min=log_minutes(marked[1]))
        for kind, marked in ((Kind.COOLING, options["cooling"]), (Kind.FULL_POWER, options["full_power"]))
        if marked is not None
    ]


def _found(row: Calibration) -> list[str]:
    return [*notice_lines(row), *fit_lines(row)]


def _would_move(row: Calibration) -> Iterator[str]:
    """Those of the fit that is offered one by one, of the other how many."""
    for name, _ in fits_of(row):
        words, moved = f"By {Ranges(name).label}", moved_by(row, name)
        if name == row.offered:
            yield from moved_lines(words, moved, row.equipment.studio)
        else:
            yield f"{words}, which is not offered, {len(moved)} would be."
    yield "Nothing was changed; --accept, --from and --by make a fit the record."


def _accepted(row: Calibration, day: dt.date, options: dict[str, Any]) -> list[str]:
    accepted = accept_fit(
        actor=row.made_by,
        calibration=row,
        ranges=options["accept"],
        valid_from=day,
        although_early=options["although_early"],
    )
    said = f"{row.equipment} goes by this record from {day} on: {accepted.record.source}."
    return [said, *moved_lines("By the record", accepted.moved, row.equipment.studio)]
