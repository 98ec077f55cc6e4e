"""What a logger does to the rows changes nothing in the fit."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studios.calibration import Fit, Log, calibrate, read_log
from studios.errors import LehrbookError
from tests.engine.calibration.made import AMBIENT_C, DOOR_C, body, cooled, csv_of, heated, log_of

KILN = body(tau_h=4.0, ceiling_c=1000.0)
LOG = log_of(heated(KILN, every_min=5.0), cooled(KILN, from_c=820.0, every_min=5.0), every_min=5.0)
HEADER, *ROWS = csv_of(LOG, digits=3).split("\n")


def fitted(text: str | Log) -> Fit:
    log = read_log(text) if isinstance(text, str) else text
    return calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).offered


PLAIN = fitted("\n".join([HEADER, *ROWS]))


@settings(max_examples=25, deadline=None)
@given(rows=st.permutations(ROWS))
def test_shuffled_rows_give_the_same_fit(rows: list[str]) -> None:
    assert fitted("\n".join([HEADER, *rows])) == PLAIN


@settings(max_examples=25, deadline=None)
@given(again=st.lists(st.sampled_from(ROWS), max_size=60), data=st.data())
def test_repeated_rows_give_the_same_fit(again: list[str], data: st.DataObject) -> None:
    place = data.draw(st.integers(0, len(ROWS)))

    assert fitted("\n".join([HEADER, *ROWS[:place], *again, *ROWS[place:]])) == PLAIN


@settings(max_examples=25, deadline=None)
@given(
    delimiter=st.sampled_from(";\t,"),
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
    codec=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "latin-1"]),
    comma=st.booleans(),
)
def test_the_way_of_writing_does_not_matter(delimiter: str, ends: str, codec: str, comma: bool) -> None:
    rows = [row.split(",") for row in [HEADER, *ROWS]]
    quote = '"' if comma and delimiter == "," else ""
    point = "," if comma else "."
    text = ends.join(
        delimiter.join(f"{quote}{cell.replace('.', point)}{quote}" for cell in row) for row in rows
    )

    written = read_log(text.encode(codec))

    assert written == read_log("\n".join([HEADER, *ROWS]))


def test_fahrenheit_gives_the_same_fit() -> None:
    rows = [
        f"{minute:g},{temp_c * 1.8 + 32:.6f}" for minute, temp_c in zip(LOG.minutes, LOG.temps_c, strict=True)
    ]

    fahrenheit = fitted("\n".join(["minutes,temperature °F", *rows]))

    assert fahrenheit.tau_h == pytest.approx(fitted(LOG).tau_h, rel=1e-5)
    assert fahrenheit.ceiling_c == pytest.approx(fitted(LOG).ceiling_c, rel=1e-5)


def test_dates_give_the_same_fit_as_minutes() -> None:
    lit = datetime(2024, 2, 28, 17, 30)  # noqa: DTZ001 (a logger's clock has no zone)
    rows = [
        f"{lit + timedelta(minutes=minute):%Y-%m-%d %H:%M:%S},{temp_c:.3f}"
        for minute, temp_c in zip(LOG.minutes, LOG.temps_c, strict=True)
    ]

    dated = fitted("\n".join(["time,temperature °C", *rows]))

    assert dated.tau_h == pytest.approx(PLAIN.tau_h, rel=1e-9)


@settings(max_examples=200, deadline=None)
@given(text=st.text(max_size=300))
def test_any_text_is_read_or_refused_by_name(text: str) -> None:
    _refused_by_name(text)


@settings(max_examples=200, deadline=None)
@given(
    cells=st.lists(
        st.tuples(
            st.sampled_from(["0", "1", "2.5", "1e3", "-7", "x", "", "12:00", "2024-01-01", "nan", "9" * 30]),
            st.sampled_from(["20", "500", "0", "-5", "nan", "", "OPEN", "1e400", "510 °C", "1,5", "٣"]),
        ),
        max_size=40,
    ),
    header=st.sampled_from(["minutes,temp C", "time,temp", "date,time,temp F", "", "a,b"]),
)
def test_any_table_is_read_or_refused_by_name(cells: list[tuple[str, str]], header: str) -> None:
    _refused_by_name("\n".join([header, *(",".join(pair) for pair in cells)]))


def _refused_by_name(text: str) -> None:
    with suppress(LehrbookError):
        found = calibrate(read_log(text), ambient_c=AMBIENT_C, door_c=DOOR_C)
        assert 0.01 <= found.offered.tau_h <= 200
