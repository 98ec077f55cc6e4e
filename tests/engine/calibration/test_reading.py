"""Logs as loggers and controllers write them: what is read, what is told, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from studios.calibration import CalibrationError, LogError, Written, calibrate, read_log
from studios.calibration.errors import (
    AmbiguousDate,
    EmptyLog,
    LogTooLarge,
    NoTable,
    NotALog,
    NoTemperatureColumn,
    NoTimeColumn,
    NoTimePasses,
    TemperatureUnitsDisagree,
    TemperatureUnitUnknown,
    TimeOutOfRange,
    TimeUnitUnknown,
    TooFewReadings,
    UnreadableTimes,
)
from tests.engine.calibration.made import AMBIENT_C, DOOR_C

LOGS = Path(__file__).parents[3] / "fixtures" / "logs"


def rows(count: int = 20, *, time: str = "{i}", temp: str = "{t}") -> str:
    return "\n".join(f"{time},{temp}".format(i=i, t=510 - 5 * i) for i in range(count))


def falling(header: str, count: int = 20) -> str:
    return header + "\n" + rows(count)


SAME_KILN = {
    "semicolons_and_decimal_commas.csv": None,
    "fahrenheit_in_tabs.csv": None,
    "clock_passes_midnight_no_header.csv": "C",
    "date_and_time_apart.csv": None,
    "iso_with_offset.csv": None,
    "thermocouple_dropped_out_and_rows_astray.csv": None,
}


@pytest.mark.parametrize(("name", "unit"), SAME_KILN.items())
def test_one_cooling_written_in_six_ways_is_the_same_kiln(name: str, unit: str | None) -> None:
    log = read_log((LOGS / name).read_bytes(), unit="C" if unit else None)

    fitted = calibrate(log, ambient_c=AMBIENT_C, door_c=DOOR_C).one_range

    assert log.ends_min == pytest.approx(730.0)
    assert fitted.tau_h == pytest.approx(4.0, rel=0.005)


def test_every_row_astray_is_told_with_its_line() -> None:
    log = read_log((LOGS / "thermocouple_dropped_out_and_rows_astray.csv").read_text("utf-8"))

    assert set(log.notices) == {
        "line 12: no temperature: the thermocouple dropped out; left out.",
        "lines 22-23: no temperature: the thermocouple dropped out; left out.",
        "lines 32-33: 0 °C or below in the middle of heat: the thermocouple dropped out; left out.",
        "line 42: not between -60 and 1400 °C: no temperature of a kiln; left out.",
        "lines 52-53: a jump that no kiln can make, and back: the thermocouple dropped out; left out.",
        "line 62: no reading for 55 minutes before it.",
        "line 82: the same time and temperature again; counted once.",
        "line 93: earlier than the line before; put in order of time.",
    }


@pytest.mark.parametrize(
    ("header", "every_min"),
    [
        ("minutes,temp °C", 1.0),
        ("time_s,temp_c", 1 / 60),
        ("Time [h],Temperature [C]", 60.0),
        ("elapsed (sec),T/C (degC) actual", 1 / 60),
        ("hours,celsius", 60.0),
    ],
)
def test_elapsed_time_by_its_header(header: str, every_min: float) -> None:
    log = read_log(falling(header))

    assert log.minutes[:3] == pytest.approx((0.0, every_min, 2 * every_min))
    assert log.temps_c[:2] == (510.0, 505.0)


@pytest.mark.parametrize(
    ("stamp", "every_min"),
    [
        ("2024-05-03 18:{i:02d}", 1.0),
        ("2024-05-03T18:{i:02d}:30Z", 1.0),
        ("2024-05-03T18:00:{i:02d}.5+02:00", 1 / 60),
        ("2024/05/03 18:{i:02d}", 1.0),
        ("13/05/2024 18:{i:02d}", 1.0),
        ("05/13/2024 6:{i:02d} PM", 1.0),
        ("03.05.2024 18:{i:02d}", 1.0),
        ("18:{i:02d}", 1.0),
        ("11:{i:02d} pm", 1.0),
        ("26:{i:02d}:00", 1.0),
    ],
)
def test_times_as_loggers_write_them(stamp: str, every_min: float) -> None:
    log = read_log("time,temp C\n" + rows(time=stamp))

    assert log.minutes[:3] == pytest.approx((0.0, every_min, 2 * every_min))


def test_a_clock_passes_midnight_twice() -> None:
    hours = [(18 + i) % 24 for i in range(48)]
    text = "time,temp C\n" + "\n".join(f"{hour:02d}:00,{500 - i}" for i, hour in enumerate(hours))

    assert read_log(text).ends_min == 47 * 60


def test_rows_astray_around_midnight_stay_on_their_day() -> None:
    clock = ["23:57", "23:58", "00:00", "23:59", *(f"00:{i:02d}" for i in range(1, 12))]
    text = "time,temp C\n" + "\n".join(f"{at},{500 - i}" for i, at in enumerate(clock))

    assert read_log(text).minutes == tuple(float(i) for i in range(15))


def test_an_offset_that_changes_with_the_clocks_is_no_jump() -> None:
    first = [f"2024-10-27T02:{i:02d}:00+02:00,{600 - i}" for i in range(50, 60)]
    then = [f"2024-10-27T02:{i:02d}:00+01:00,{540 - i}" for i in range(10)]

    log = read_log("\n".join(["time,temp C", *first, *then]))

    assert log.minutes == tuple(float(i) for i in range(20))
    assert log.notices == ()


def test_the_day_first_when_asked() -> None:
    text = "time,temp C\n" + rows(time="03/05/2024 18:{i:02d}")

    in_may, in_march = read_log(text, day_first=True), read_log(text, day_first=False)

    assert in_may.minutes == in_march.minutes
    assert in_may.first_min - in_march.first_min == 59 * 24 * 60


@pytest.mark.parametrize("cell", ["{t}", "{t} °C", "{t}.0C", '"{t},0"', " {t} "])
def test_temperatures_with_their_unit_behind_them(cell: str) -> None:
    log = read_log("minutes,temp\n" + rows(temp=cell), unit="C")

    assert log.temps_c[:2] == (510.0, 505.0)


def test_thousands_in_fahrenheit() -> None:
    log = read_log("minutes;temp F\n" + "\n".join(f"{i};1,{100 + i}.5" for i in range(20)))

    assert log.temps_c[0] == pytest.approx((1100.5 - 32) / 1.8)


def test_the_set_point_is_not_the_temperature() -> None:
    text = "minutes,set point C,temp C,second temp C\n" + "\n".join(f"{i},20,{500 - i},99" for i in range(20))

    log = read_log(text)

    assert log.temps_c[0] == 500.0
    assert log.notices == ("line 1: the column “second temp C” is left out; the first temperature counts.",)


@pytest.mark.parametrize(
    ("cells", "share"),
    [(("on", "off"), (1.0, 0.0)), (("1", "0"), (1.0, 0.0)), (("100 %", "50%"), (1.0, 0.5))],
)
def test_the_heating_on_and_off_or_in_percent(cells: tuple[str, str], share: tuple[float, float]) -> None:
    text = "minutes,temp C,heating\n" + "\n".join(f"{i},{500 - i},{cells[i % 2]}" for i in range(20))

    assert read_log(text).heating == share * 10


def test_different_temperatures_at_one_time_are_averaged() -> None:
    log = read_log(falling("minutes,temp C") + "\n5,480")

    assert log.temps_c[5] == (485 + 480) / 2
    assert "line 7: different temperatures at one time; their mean is taken." in log.notices


def test_rows_without_a_time_are_left_out() -> None:
    log = read_log(falling("minutes,temp C") + "\nend of log,none\n")

    assert log.notices == ("line 22: no time that can be read; left out.",)


def test_frost_before_the_kiln_is_lit_is_no_drop_out() -> None:
    text = "minutes,temp C\n" + "\n".join(f"{i},{-5 + i}" for i in range(40))

    assert read_log(text).temps_c[0] == -5.0


REFUSED: list[tuple[type[LogError], str | bytes, str]] = [
    (EmptyLog, "", "empty"),
    (EmptyLog, "\n \n# nothing\n", "empty"),
    (EmptyLog, "minutes,temp C\n", "empty"),
    (NotALog, b"PK\x03\x04\x00\x00binary", "Line 1"),
    (NotALog, "minutes,temp C\n1,\x00\x01\n", "Line 2"),
    (NotALog, "minutes,temp C\n" + "9" * 3000, "Line 2"),
    (NoTable, "only one column\n1\n2\n", "Line 1"),
    (NoTable, "x,y\nu,v\n", "Line 1"),
    (NoTemperatureColumn, "minutes,pressure\n1,2\n", "minutes, pressure"),
    (NoTimeColumn, "kiln,temp C\n1,2\n", "kiln, temp C"),
    (UnreadableTimes, "time,temp C\nsoon,500\nlater,400\n", "Line 2"),
    (TimeUnitUnknown, "time,temp C\n0,500\n1,400\n", "Line 2"),
    (AmbiguousDate, "time,temp C\n03/05/2024 18:00,500\n", "Line 2"),
    (TimeOutOfRange, falling("minutes,temp C") + "\n1e300,20\n", "Line 22"),
    (TimeOutOfRange, falling("minutes,temp C") + "\ninf,20\n", "Line 22"),
    (TemperatureUnitUnknown, falling("minutes,temp"), "°C or °F"),
    (TooFewReadings, "minutes,temp C\n0,500\n", "log: 1;"),
    (TooFewReadings, falling("minutes,temp C", 11), "log: 11;"),
    (NoTimePasses, "minutes,temp C\n" + "5,500\n" * 20, "same time"),
    (LogTooLarge, "minutes,temp C\n" + "1,5\n" * 500_001, "500,000 rows"),
    (LogTooLarge, b"a" * 5_000_001, "5 MB"),
]


@pytest.mark.parametrize(("error", "source", "says"), REFUSED, ids=[error.code for error, _, _ in REFUSED])
def test_what_is_no_log_is_refused(error: type[LogError], source: str | bytes, says: str) -> None:
    with pytest.raises(error) as refused:
        read_log(source)

    assert refused.type is error
    assert says in str(refused.value)
    assert refused.value.field in {"log", "unit", "elapsed", "day_first"}


def test_the_unit_asked_must_be_the_one_named() -> None:
    with pytest.raises(TemperatureUnitsDisagree) as refused:
        read_log(falling("minutes,temp °F"), unit="C")

    assert str(refused.value) == "You said °C and line 1 of the log says °F. Choose what the log says."


@pytest.mark.parametrize("temp", ["1e308", "-1e308", "9" * 400, "1400.5", "-274"])
def test_impossible_temperatures_are_left_out(temp: str) -> None:
    log = read_log(falling("minutes,temp C") + f"\n20,{temp}\n")

    assert len(log.minutes) == 20
    assert log.notices == ("line 22: not between -60 and 1400 °C: no temperature of a kiln; left out.",)


def test_every_error_has_a_code_of_its_own() -> None:
    def leaves(kind: type[CalibrationError]) -> list[type[CalibrationError]]:
        return [kind, *(leaf for sub in kind.__subclasses__() for leaf in leaves(sub))]

    codes = [kind.code for kind in leaves(CalibrationError)]

    assert len(codes) == len(set(codes))


@pytest.mark.parametrize(
    ("stamp", "way", "first_min"),
    [
        ("{i}", Written.ELAPSED, 0),
        ("18:{i:02d}", Written.CLOCK, 18 * 60),
        ("1970-01-02 18:{i:02d}", Written.WALL, 42 * 60),
        ("02.01.1970 18:{i:02d}", Written.WALL, 42 * 60),
        ("1970-01-02T18:{i:02d}:00-06:00", Written.MOMENT, 48 * 60),
    ],
)
def test_a_log_says_from_when_its_minutes_count(stamp: str, way: Written, first_min: float) -> None:
    log = read_log("time,temp C\n" + rows(time=stamp), elapsed="min")

    assert (log.written, log.first_min) == (way, first_min)
