"""A log with its fits over it and what they miss below, as a picture."""

from __future__ import annotations

from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scheduling.management import figures
from scheduling.management.figures import EDGE, GLASS, GLOW, INK, QUIET
from scheduling.selectors.calibrations import fits_of
from studios.models import Calibration, Ranges

WIDTH_IN, HEIGHT_IN = 11.0, 7.0
STYLES = {Ranges.ONE.value: (GLOW, "-"), Ranges.TWO.value: (GLASS, "--")}


def draw(row: Calibration, path: Path) -> None:
    """Raises UnknownFigureFormat or FigureNotWritten."""
    with figures.styled():
        figures.save(drawing(row), path, f"{row.file_name} fitted to {row.equipment}")


def drawing(row: Calibration) -> Figure:
    """Above the log and the fits, below what they miss, over hours from the first reading."""
    figure = figures.new_figure(WIDTH_IN, HEIGHT_IN)
    above, below = figure.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": (3, 1)})
    for axes in (above, below):
        figures.calm(axes)
    _log(above, row)
    _fits(above, below, row)
    above.set_title(f"{row.equipment}: {row.file_name}", loc="left", color=INK)
    above.set_ylabel("°C")
    below.set_ylabel("measured less fitted (K)")
    below.set_xlabel("hours from the first reading")
    below.axhline(0, color=EDGE, linewidth=0.8)
    above.legend(frameon=False, loc="upper right")
    figure.align_ylabels([above, below])
    figure.subplots_adjust(left=0.08, right=0.98, top=0.94, bottom=0.08, hspace=0.08)
    return figure


def _log(axes: Axes, row: Calibration) -> None:
    minutes, temps_c = zip(*row.readings, strict=True)
    axes.plot([minute / 60 for minute in minutes], temps_c, color=EDGE, linewidth=4, alpha=0.55, label="log")
    axes.axhline(row.door_c, color=QUIET, linewidth=0.8, linestyle=":", label=f"door, {row.door_c:.0f} °C")


def _fits(above: Axes, below: Axes, row: Calibration) -> None:
    for name, fit in fits_of(row):
        colour, dash = STYLES[name]
        for number, curve in enumerate(fit["curves"]):
            minutes, fitted_c, off_k = zip(*curve, strict=True)
            hours = [minute / 60 for minute in minutes]
            label = f"fitted, {Ranges(name).label}" if number == 0 else None
            above.plot(hours, fitted_c, color=colour, linestyle=dash, linewidth=1.4, label=label)
            below.plot(hours, off_k, color=colour, linestyle=dash, linewidth=0.9)
