"""Fitting a log from the terminal."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command

from studios.models import Calibration, ThermalRecord
from tests.logs import cooling_log, firing_log, ramp_log
from tests.services.test_booking import book
from tests.worlds import Town, local

ACCEPT = ("--accept", "one", "--from", "2031-03-04", "--by", "technician@town.example")


@pytest.fixture(autouse=True)
def _monday_morning(town: Town) -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


@pytest.fixture
def log(tmp_path: Path) -> Path:
    return written(tmp_path, cooling_log(5.0))


def written(folder: Path, text: str) -> Path:
    path = folder / "night.csv"
    path.write_text(text)
    return path


def calibrate(log: Path, *flags: str, studio: str = "hot-shop", equipment: str = "annealer 1") -> str:
    printed = StringIO()
    call_command("calibrate", str(log), "--studio", studio, "--equipment", equipment, *flags, stdout=printed)
    return printed.getvalue()


def test_a_fit_is_printed_with_its_intervals_and_what_it_would_move(town: Town, log: Path) -> None:
    book(town, "blowing", local(4, 18))

    printed = calibrate(log)

    assert "Cooling by itself: 0:00 to 15:5" in printed
    assert "τ (h) 4.000 5.000 (" in " ".join(printed.split())
    assert "One range: to 50 °C 15:5" in printed
    assert "Offered: one range." in printed
    assert "By one range these would be cool at another time; they keep their hours:" in printed
    assert "blowing, Instructor  Sat  8 Mar 11:15" in printed
    assert printed.endswith("Nothing was changed; --accept, --from and --by make a fit the record.\n")
    assert not Calibration.objects.exists()
    assert not ThermalRecord.objects.filter(valid_from__year=2031).exists()


def test_accepting_makes_it_the_record_and_lists_what_keeps_its_hours(town: Town, log: Path) -> None:
    book(town, "blowing", local(4, 18))

    printed = calibrate(log, *ACCEPT)

    record = ThermalRecord.objects.get(valid_from="2031-03-04")
    assert record.tau_h == pytest.approx(5.0, rel=0.01)
    assert f"annealer 1 goes by this record from 2031-03-04 on: {record.source}." in printed
    assert "By the record these would be cool at another time" in printed
    assert Calibration.objects.get().record == record


def test_a_ceiling_is_found_where_the_log_has_full_power(town: Town, tmp_path: Path) -> None:
    printed = calibrate(written(tmp_path, firing_log(5.0, 820.0)))

    assert "Heating at full power: 0:00 to" in printed
    assert "T∞ (°C) 700.0 8" in " ".join(printed.split())


def test_what_opens_early_needs_to_be_accepted_knowingly(town: Town, tmp_path: Path) -> None:
    log = written(tmp_path, cooling_log(2.0, 5.0))

    with pytest.raises(CommandError, match="too early"):
        calibrate(log, *ACCEPT)
    assert not Calibration.objects.exists()

    assert "Offered: two ranges." in calibrate(log, *ACCEPT, "--although-early")
    assert Calibration.objects.get().accepted_ranges == "one"


@pytest.mark.parametrize(("suffix", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG")])
def test_a_figure_shows_the_log_and_what_the_fit_misses(
    town: Town, log: Path, tmp_path: Path, suffix: str, begins: bytes
) -> None:
    figure = tmp_path / f"fit.{suffix}"

    assert f"The log and its fits stand in {figure}." in calibrate(log, "--figure", str(figure))

    content = figure.read_bytes()
    assert content.startswith(begins)
    if suffix == "svg":
        for words in ("annealer 1: night.csv", "measured less fitted (K)", "door, 50 °C"):
            assert words in content.decode()
        assert str(tmp_path) not in content.decode()
        calibrate(log, "--figure", str(figure))
        assert figure.read_bytes() == content


def test_a_figure_that_cannot_be_written_undoes_the_accepting(town: Town, log: Path, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be written"):
        calibrate(log, *ACCEPT, "--figure", str(tmp_path / "nowhere" / "fit.svg"))

    assert not Calibration.objects.exists()
    assert not ThermalRecord.objects.filter(valid_from__year=2031).exists()


def test_a_stretch_may_be_marked(town: Town, log: Path) -> None:
    assert "Cooling by itself: 1:00 to 14:00 (as marked)." in calibrate(log, "--cooling", "1:00", "14:00")


@pytest.mark.parametrize(
    ("text", "flags", "sentence"),
    [
        ("", (), "The log is empty"),
        (ramp_log(), (), "rises in a straight line"),
        (cooling_log(5.0).replace("°C", "?"), (), "°C or °F. Say which"),
        (cooling_log(5.0), ("--unit", "F"), "You said °F"),
        (cooling_log(5.0).replace("(min)", ""), (), "a bare number"),
        (cooling_log(5.0), ("--cooling", "soon", "14:00"), "such as 3:20"),
        (cooling_log(5.0), ("--ambient-c", "80"), "must lie between"),
        (cooling_log(5.0), ("--accept", "one"), "--accept, --from and --by go together"),
        (cooling_log(5.0), ("--by", "technician@town.example"), "go together"),
        (cooling_log(5.0), ("--figure", "fit.jpeg"), r"fit.jpeg ends in neither"),
        (cooling_log(5.0), (*ACCEPT[:3], "yesterday", *ACCEPT[4:]), "'yesterday' is no day"),
        (cooling_log(5.0), (*ACCEPT[:3], "2031-03-02", *ACCEPT[4:]), "not made in the past"),
        (cooling_log(5.0), (*ACCEPT[:5], "nobody@town.example"), "Nobody signs in as"),
        (cooling_log(5.0), (*ACCEPT[:5], "student@town.example"), "needs the role technician"),
    ],
)
def test_wrong_input_is_answered_in_one_line_and_nothing_is_kept(
    town: Town, tmp_path: Path, text: str, flags: tuple[str, ...], sentence: str
) -> None:
    with pytest.raises(CommandError, match=sentence) as refused:
        calibrate(written(tmp_path, text), *flags)

    assert "\n" not in str(refused.value)
    assert not Calibration.objects.exists()


def test_a_file_or_a_name_that_is_not_there_is_said(town: Town, log: Path, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="cannot be read: No such file"):
        calibrate(tmp_path / "nothing.csv")
    with pytest.raises(CommandError, match="Hot shop has no equipment 'oven'"):
        calibrate(log, equipment="oven")
    with pytest.raises(CommandError, match="There is no studio 'barn'"):
        calibrate(log, studio="barn")
    with pytest.raises(CommandError, match="furnace has no thermal record yet"):
        calibrate(log, equipment="furnace")
