"""From the text of a log to its columns: which is the time, which the temperature, which the heating."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from studios.calibration.clock import Elapsed, Stamp
from studios.calibration.errors import (
    EmptyLog,
    LogTooLarge,
    NoTable,
    NotALog,
    NoTemperatureColumn,
    NoTimeColumn,
)
from studios.said import said

Unit = Literal["C", "F"]
LARGEST_BYTES = 5_000_000
MOST_ROWS = 500_000
LONGEST_LINE = 2_000
HEADER_WITHIN = 60  # lines of who, where and what, before the table begins

_TIME = re.compile(r"time|clock|elapsed|zeit|stamp|minute|second|hour|\bmin\b|\bsecs?\b|\bhrs?\b|^[smht]$")
_DATE = re.compile(r"date|datum|\bday\b")
_TEMPERATURE = re.compile(r"temp|°|deg|celsius|fahrenheit|\btc\b|thermo|\bpv\b|actual|^[cf]$")
_WISH = re.compile(r"set|target|\bsp\b|wish|ambient|room|outside|program")
_HEATING = re.compile(r"heat|power|output|element|relay|duty|\bon\b")
_CELSIUS = re.compile(r"celsius|[°º]\s*c\b|deg[\s._]*c\b|[\[(]\s*c\s*[\])]|\bc\b|_c\b|[℃]")
_FAHRENHEIT = re.compile(r"fahrenheit|[°º]\s*f\b|deg[\s._]*f\b|[\[(]\s*f\s*[\])]|\bf\b|_f\b|[℉]")
_SECONDS = re.compile(r"second|\bs(ecs?)?\b|_s(ec)?\b|[\[(]\s*s\s*[\])]|^s$")
_MINUTES = re.compile(r"minute|\bmins?\b|_min\b|^m$")
_HOURS = re.compile(r"hour|\bh(rs?)?\b|_h(rs?)?\b|[\[(]\s*h\s*[\])]|^h$")
_NO_TEXT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ufffd]")
_SOME_NUMBER = re.compile(r"\d")


@dataclass(frozen=True, kw_only=True)
class Columns:
    """Where the table has what; a date beside the clock time in a column of its own."""

    time: int
    temperature: int
    date: int | None = None
    heating: int | None = None
    elapsed: Elapsed | None = None
    unit: Unit | None = None
    unit_line: int | None = None
    notices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Row:
    line: int
    cells: tuple[str, ...]

    def cell(self, column: int | None) -> str:
        return self.cells[column] if column is not None and column < len(self.cells) else ""


@dataclass(frozen=True, kw_only=True)
class Table:
    columns: Columns
    rows: tuple[Row, ...]

    def stamps(self) -> list[Stamp]:
        date, time = self.columns.date, self.columns.time
        return [Stamp(line=row.line, text=f"{row.cell(date)} {row.cell(time)}".strip()) for row in self.rows]


def read_table(source: str | bytes) -> Table:
    """The rows of a log under its header, or by place (time, temperature) where it has none.

    Raises EmptyLog, LogTooLarge, NotALog, NoTable, NoTimeColumn or NoTemperatureColumn.
    """
    lines = _lines(_text(source))
    filled = [(number, text) for number, text in lines if text.strip() and not text.lstrip().startswith("#")]
    if not filled:
        raise EmptyLog(field="log")
    if len(filled) > MOST_ROWS:
        raise LogTooLarge(field="log", limit=f"{MOST_ROWS:,}", what="rows")
    rows = _rows(filled, _delimiter(filled))
    header = _header(rows[:HEADER_WITHIN])
    if header is not None:
        return Table(columns=_named(rows[header]), rows=tuple(rows[header + 1 :]))
    return Table(columns=_by_place(rows), rows=tuple(rows))


def _text(source: str | bytes) -> str:
    size = len(source) if isinstance(source, bytes) else len(source.encode(errors="surrogatepass"))
    if size > LARGEST_BYTES:
        raise LogTooLarge(field="log", limit=f"{LARGEST_BYTES // 1_000_000} MB", what=said("of text"))
    if isinstance(source, str):
        return source.removeprefix("\ufeff")
    if source.startswith((b"\xff\xfe", b"\xfe\xff")):
        return source.decode("utf-16", errors="replace")
    try:
        return source.decode("utf-8-sig")
    except UnicodeDecodeError:
        return source.decode("latin-1")


def _lines(text: str) -> list[tuple[int, str]]:
    lines = list(enumerate(re.split(r"\r\n|\r|\n", text), start=1))
    for number, line in lines:
        if len(line) > LONGEST_LINE or _NO_TEXT.search(line):
            raise NotALog(field="log", line=number)
    return lines


def _delimiter(filled: Sequence[tuple[int, str]]) -> str:
    """Semicolons or tabs where most lines have them, since the comma may be the decimal comma."""
    sample = [text for _, text in filled[-200:]]
    for delimiter in ";\t,":
        if sum(delimiter in text for text in sample) * 2 > len(sample):
            return delimiter
    raise NoTable(field="log", line=filled[0][0], text=filled[0][1].strip()[:40])


def _rows(filled: Sequence[tuple[int, str]], delimiter: str) -> list[Row]:
    return [Row(line=number, cells=_cells(text, delimiter)) for number, text in filled]


def _cells(text: str, delimiter: str) -> tuple[str, ...]:
    if '"' not in text:
        return tuple(cell.strip() for cell in text.split(delimiter))
    return tuple(cell.strip() for cell in next(csv.reader([text], delimiter=delimiter)))


def _header(rows: Sequence[Row]) -> int | None:
    """The line that names a time and a temperature; failing that, the first that names one of the two."""
    known = [_known(row) for row in rows]
    best = max(known, default=0)
    return known.index(best) if best > 0 else None


def _known(row: Row) -> int:
    named = [_words(cell) for cell in row.cells if cell]
    if len(named) < 2 or any(_SOME_NUMBER.match(word) for word in named):
        return 0
    times = any(_TIME.search(word) or _DATE.search(word) for word in named)
    return times + any(_TEMPERATURE.search(word) for word in named)


def _words(cell: str) -> str:
    return cell.strip().lower()


def _named(header: Row) -> Columns:
    words = [_words(cell) for cell in header.cells]
    temperatures = list(_matching(words, _TEMPERATURE, but=_WISH))
    if not temperatures:
        raise NoTemperatureColumn(field="log", header=", ".join(header.cells)[:200])
    temperature = temperatures[0]
    left = [word if place != temperature else "" for place, word in enumerate(words)]
    time, date = (
        next(_matching(left, _TIME, but=_HEATING), None),
        next(_matching(left, _DATE, but=_TIME), None),
    )
    if time is None and date is None:
        raise NoTimeColumn(field="log", header=", ".join(header.cells)[:200])
    unit = _unit(words[temperature])
    return Columns(
        time=time if time is not None else date or 0,
        date=date if time is not None else None,
        temperature=temperature,
        heating=next(_matching(left, _HEATING, but=_WISH), None),
        elapsed=None if time is None else _elapsed(words[time]),
        unit=unit,
        unit_line=None if unit is None else header.line,
        notices=_left_out(header, temperatures[1:]),
    )


def _matching(words: Sequence[str], wanted: re.Pattern[str], *, but: re.Pattern[str]) -> Iterator[int]:
    return (place for place, word in enumerate(words) if wanted.search(word) and not but.search(word))


def _left_out(header: Row, places: Sequence[int]) -> tuple[str, ...]:
    return tuple(
        said(
            "line {line}: the column “{column}” is left out; the first temperature counts.",
            line=header.line,
            column=header.cells[place],
        )
        for place in places
    )


def _unit(word: str) -> Unit | None:
    if _FAHRENHEIT.search(word):
        return "F"
    return "C" if _CELSIUS.search(word) else None


def _elapsed(word: str) -> Elapsed | None:
    if _SECONDS.search(word):
        return "s"
    if _MINUTES.search(word):
        return "min"
    return "h" if _HOURS.search(word) else None


def _by_place(rows: Sequence[Row]) -> Columns:
    """Without a header: time and temperature, or date, time and temperature."""
    first = next((row for row in rows if len(row.cells) >= 2 and _SOME_NUMBER.search(row.cells[0])), None)
    if first is None:
        raise NoTable(field="log", line=rows[0].line, text=" ".join(rows[0].cells)[:40])
    date_apart = bool(re.fullmatch(r"\d{1,4}[./-]\d{1,2}[./-]\d{1,4}", first.cells[0]))
    places = 3 if date_apart else 2
    more = len(first.cells) > places and any(first.cells[places:])
    no_header = said(
        "line {line}: no header; the columns after the temperature are left out.", line=first.line
    )
    told = (no_header,) if more else ()
    if date_apart:
        return Columns(date=0, time=1, temperature=2, notices=told)
    return Columns(time=0, temperature=1, notices=told)
