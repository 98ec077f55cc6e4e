"""A log with its fits over it, and below it what each fit misses, reading by reading."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from scheduling.selectors.calibrations import fits_of
from scheduling.web.drawing.frame import Frame, Scale, bands, path, tag, text
from scheduling.web.drawing.marks import fill
from studios.calibration import Kind
from studios.models import Calibration, Ranges
from studios.thermal import Phase
from studios.thermal.units import c_from_f

WIDTH, SIDE = 860.0, 62.0
HEIGHT, PAD = 280.0, 12.0
BAND = 10.0  # along the foot: which stretch was used as what
GAP, MISSED, FOOT = 40.0, 110.0, 30.0
TOPS_C = (600.0, 900.0, 1250.0, 1500.0)
STEPS_MIN = (15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880, 10080)
MISSED_K = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1500.0)
SHOWN_AS = {Kind.COOLING.value: Phase.COOLING, Kind.FULL_POWER.value: Phase.HEAT_UP}
STYLES = {Ranges.ONE.value: "fitted", Ranges.TWO.value: "fitted fitted-two"}


def draw(calibration: Calibration) -> str:
    """Hours from the first reading along the foot, °C left and °F right; the fit over the log."""
    readings: Sequence[Sequence[float]] = calibration.readings
    frame = Frame(span=(0, max(1, math.ceil(readings[-1][0]))), width=WIDTH)
    scale = Scale(top_c=_top_c(readings), height=HEIGHT, pad=PAD)
    body = (
        f'<rect class="staffed" width="{WIDTH:.0f}" height="{HEIGHT:.0f}"/>'
        + _stretches(calibration, frame)
        + _degrees(scale)
        + _hours(frame, HEIGHT + GAP + MISSED)
        + _door(calibration, scale)
        + path(_line((frame.x(minute), scale.y(temp_c)) for minute, temp_c in readings), "logged")
        + _fitted(calibration, frame, scale)
        + _missed(calibration, frame)
    )
    box = f"{-SIDE:.0f} 0 {WIDTH + 2 * SIDE:.0f} {HEIGHT + GAP + MISSED + FOOT:.0f}"
    name = f"The log {calibration.file_name} with the fits over it, and below what they miss"
    return tag("svg", body, cls="plot", viewBox=box, role="img", aria_label=name)


def _top_c(readings: Iterable[Sequence[float]]) -> float:
    hottest = max(temp_c for _, temp_c in readings)
    return next((top_c for top_c in TOPS_C if hottest <= top_c), TOPS_C[-1])


def _line(points: Iterable[tuple[float, float]]) -> str:
    joined = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f"M{joined}" if joined else ""


def _stretches(calibration: Calibration, frame: Frame) -> str:
    """A band with the mark of what it was taken for."""
    return "".join(
        path(
            bands(frame, [(int(one["from_min"]), math.ceil(one["to_min"]))], HEIGHT - BAND, BAND),
            "phase",
            fill=fill(SHOWN_AS[one["kind"]]),
        )
        for one in calibration.stretches
    )


def _degrees(scale: Scale) -> str:
    """°C on the left with level lines, °F on the right."""
    celsius = range(0, int(scale.top_c) + 1, 100 if scale.top_c < 1000 else 250)
    fahrenheit = range(100, int(scale.top_c * 1.8) + 32, 200 if scale.top_c < 1000 else 500)
    lines = "".join(f"M0 {scale.y(c):.1f}H{WIDTH:.0f}" for c in celsius)
    left = "".join(text(-6, scale.y(c) + 4, f"{c} °C", cls="axis-label", text_anchor="end") for c in celsius)
    right = "".join(
        text(WIDTH + 6, scale.y(c_from_f(f)) + 4, f"{f} °F", cls="axis-label") for f in fahrenheit
    )
    return path(lines, "level") + left + right


def _hours(frame: Frame, foot: float) -> str:
    """Hours and minutes from the first reading, as a stretch is marked."""
    ends = frame.span[1]
    step = next((each for each in STEPS_MIN if ends / each <= 12), STEPS_MIN[-1])
    marks = range(0, ends + 1, step)
    ticks = "".join(f"M{frame.x(minute):.1f} {foot:.0f}v6" for minute in marks)
    words = "".join(
        text(frame.x(m), foot + 20, f"{m // 60}:{m % 60:02d}", cls="axis-label", text_anchor="middle")
        for m in marks
    )
    return path(ticks, "midnight") + words


def _door(calibration: Calibration, scale: Scale) -> str:
    at = scale.y(calibration.door_c)
    words = f"door {calibration.door_c:.0f} °C"
    return path(f"M0 {at:.1f}H{WIDTH:.0f}", "limit") + text(
        WIDTH - 6, at - 5, words, cls="axis-label", text_anchor="end"
    )


def _fitted(calibration: Calibration, frame: Frame, scale: Scale) -> str:
    return "".join(
        path(_line((frame.x(minute), scale.y(fitted_c)) for minute, fitted_c, _ in curve), STYLES[name])
        for name, fit in fits_of(calibration)
        for curve in fit["curves"]
    )


def _missed(calibration: Calibration, frame: Frame) -> str:
    """Measured less fitted: above the line the log is hotter than the fit."""
    fits = fits_of(calibration)
    top_k, middle = _most_missed(fits), HEIGHT + GAP + MISSED / 2
    each_k = MISSED / 2 / top_k
    lines = "".join(
        path(_line((frame.x(minute), middle - off_k * each_k) for minute, _, off_k in curve), STYLES[name])
        for name, fit in fits
        for curve in fit["curves"]
    )
    marks = (top_k, 0.0, -top_k)
    levels = path("".join(f"M0 {middle - k * each_k:.1f}H{WIDTH:.0f}" for k in marks), "level")
    words = "".join(
        text(-6, middle - k * each_k + 4, f"{k:+g} K" if k else "0", cls="axis-label", text_anchor="end")
        for k in marks
    )
    name = text(0, HEIGHT + GAP - 10, "Measured less fitted", cls="day-label")
    return levels + words + name + lines


def _most_missed(fits: Iterable[tuple[str, dict[str, Any]]]) -> float:
    most = max((abs(k) for _, fit in fits for curve in fit["curves"] for *_, k in curve), default=0.0)
    return next((top_k for top_k in MISSED_K if most <= top_k), MISSED_K[-1])
