"""A log with its fits over it, and below it what each fit misses, reading by reading."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from django.utils.translation import gettext as _

from scheduling.selectors.calibrations import fits_of
from scheduling.web.drawing.axes import degrees
from scheduling.web.drawing.frame import Frame, Scale, bands, path, tag, text
from scheduling.web.drawing.marks import fill
from studios.calibration import Kind
from studios.models import Calibration, Ranges
from studios.thermal import Phase
from studios.thermal.units import F_PER_K, f_from_c

WIDTH, SIDE = 860.0, 62.0
HEIGHT, PAD = 280.0, 12.0
BAND = 10.0  # along the foot: which stretch was used as what
GAP, MISSED, FOOT = 40.0, 110.0, 30.0
TOPS_C = (600.0, 900.0, 1250.0, 1500.0)
STEPS_MIN = (15, 30, 60, 120, 180, 240, 360, 720, 1440, 2880, 10080)
MISSED_IN = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 3000.0)
SHOWN_AS = {Kind.COOLING.value: Phase.COOLING, Kind.FULL_POWER.value: Phase.HEAT_UP}
STYLES = {Ranges.ONE.value: "fitted", Ranges.TWO.value: "fitted fitted-two"}


def draw(calibration: Calibration, unit: str) -> str:
    """Hours from the first reading along the foot, the reader's degrees left; the fit over the log."""
    readings: Sequence[Sequence[float]] = calibration.readings
    frame = Frame(span=(0, max(1, math.ceil(readings[-1][0]))), width=WIDTH)
    scale = Scale(top_c=_top_c(readings), height=HEIGHT, pad=PAD)
    body = (
        f'<rect class="staffed" width="{WIDTH:.0f}" height="{HEIGHT:.0f}"/>'
        + _stretches(calibration, frame)
        + degrees(scale, WIDTH, unit)
        + _hours(frame, HEIGHT + GAP + MISSED)
        + _door(calibration, scale, unit)
        + path(_line((frame.x(minute), scale.y(temp_c)) for minute, temp_c in readings), "logged")
        + _fitted(calibration, frame, scale)
        + _missed(calibration, frame, unit)
    )
    box = f"{-SIDE:.0f} 0 {WIDTH + 2 * SIDE:.0f} {HEIGHT + GAP + MISSED + FOOT:.0f}"
    name = _("The log %(file)s with the fits over it, and below what they miss") % {
        "file": calibration.file_name
    }
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


def _door(calibration: Calibration, scale: Scale, unit: str) -> str:
    at = scale.y(calibration.door_c)
    door = f_from_c(calibration.door_c) if unit == "F" else calibration.door_c
    words = _("door %(degrees)s") % {"degrees": f"{door:.0f} °{unit}"}
    return path(f"M0 {at:.1f}H{WIDTH:.0f}", "limit") + text(
        WIDTH - 6, at - 5, words, cls="axis-label", text_anchor="end"
    )


def _fitted(calibration: Calibration, frame: Frame, scale: Scale) -> str:
    return "".join(
        path(_line((frame.x(minute), scale.y(fitted_c)) for minute, fitted_c, _ in curve), STYLES[name])
        for name, fit in fits_of(calibration)
        for curve in fit["curves"]
    )


def _missed(calibration: Calibration, frame: Frame, unit: str) -> str:
    """Measured less fitted: above the line the log is hotter than the fit."""
    fits = fits_of(calibration)
    each = F_PER_K if unit == "F" else 1.0
    top, middle = _most_missed(fits, each), HEIGHT + GAP + MISSED / 2
    each_k = MISSED / 2 / top * each
    lines = "".join(
        path(_line((frame.x(minute), middle - off_k * each_k) for minute, _, off_k in curve), STYLES[name])
        for name, fit in fits
        for curve in fit["curves"]
    )
    marks = ((top, -1), (0.0, 0), (-top, 1))
    levels = path("".join(f"M0 {middle + way * MISSED / 2:.1f}H{WIDTH:.0f}" for _off, way in marks), "level")
    words = "".join(
        text(
            -6,
            middle + way * MISSED / 2 + 4,
            f"{off:+g} °{unit}" if off else "0",
            cls="axis-label",
            text_anchor="end",
        )
        for off, way in marks
    )
    name = text(0, HEIGHT + GAP - 10, _("Measured less fitted"), cls="day-label")
    return levels + words + name + lines


def _most_missed(fits: Iterable[tuple[str, dict[str, Any]]], each: float) -> float:
    """The most that is missed, in degrees `each` of which is a part of a kelvin, rounded up."""
    curves = [curve for _name, fit in fits for curve in fit["curves"]]
    most = max((abs(off_k) * each for curve in curves for *_at, off_k in curve), default=0.0)
    return next((top for top in MISSED_IN if most <= top), MISSED_IN[-1])
