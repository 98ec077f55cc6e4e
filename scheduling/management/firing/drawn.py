"""The curve of a firing as a picture: got as a line, asked dashed, phases and moments named."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import shorten
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from scheduling.management import figures
from scheduling.management.figures import EDGE, GLASS, GLOW, GLOW_SOFT, HEAT, INK, PAPER, QUIET
from scheduling.management.firing.fired import Fired, Moment
from scheduling.management.firing.printed import named
from scheduling.management.firing.units import clock
from studios.thermal import Curve, Phase, PhaseSpan
from studios.thermal.units import c_from_f, f_from_c

WIDTH_IN, HEIGHT_IN = 11.0, 6.2
PHASE_COLOURS = {
    Phase.HEAT_UP: HEAT[4],
    Phase.HOLDING: HEAT[5],
    Phase.SOAK: HEAT[3],
    Phase.ANNEALING: HEAT[2],
    Phase.COOLING: HEAT[0],
}
FINEST = 60  # points on the longest exponential: no corner is seen
# A name stands this many parts of the width from the next before it moves up a row.
LETTER = 0.0085
LONGEST_LINE = 140  # letters
ROWS, ROW_PT = 3, 12


def draw(fired: Fired, path: Path) -> None:
    """Raises UnknownFigureFormat or FigureNotWritten."""
    with figures.styled():
        figure = drawing(fired)
        figures.save(figure, path, f"Firing curve: {fired.what}")


def drawing(fired: Fired) -> Figure:
    figure = figures.new_figure(WIDTH_IN, HEIGHT_IN)
    axes = figure.add_axes((0.07, 0.16, 0.86, 0.60))
    strip = figure.add_axes((0.07, 0.775, 0.86, 0.014))
    _title(figure, fired)
    for x, unit in ((0.05, "°C"), (0.945, "°F")):
        figure.text(x, 0.782, unit, color=QUIET, ha="center", va="center")
    _temperature(axes, fired)
    if fired.asked_ways:
        figure.legend(
            *axes.get_legend_handles_labels(),
            loc="center right",
            bbox_to_anchor=(0.94, 0.95),
            ncols=2,
            frameon=False,
            labelcolor=QUIET,
        )
    _phases(strip, axes, fired.curve)
    _moments(figure, axes, fired)
    return figure


def _title(figure: Figure, fired: Fired) -> None:
    figure.text(
        0.07, 0.95, fired.what.capitalize(), fontsize=17, family="DejaVu Serif", color=INK, va="center"
    )
    load = "; ".join(named(piece) for piece in fired.asked.pieces)
    said = shorten(f"{load} · in {fired.asked.place.name}", LONGEST_LINE, placeholder=" …")
    figure.text(0.07, 0.905, said, color=QUIET, va="center")


def _temperature(axes: Axes, fired: Fired) -> None:
    figures.calm(axes)
    hours, degrees = _line(fired.curve)
    axes.fill_between(hours, degrees, min(0.0, *degrees), color=GLOW_SOFT, linewidth=0, gid="heat")
    axes.plot(hours, degrees, color=GLOW, linewidth=2.2, label="what the equipment does", gid="got")
    label = "what the program asks"
    for (starts_min, from_c), (ends_min, to_c) in fired.asked_ways:
        way = ((starts_min / 60, ends_min / 60), (from_c, to_c))
        axes.plot(*way, color=EDGE, linewidth=1.2, dashes=(4, 3), label=label, gid="asked")
        label = "_"  # one line in the legend stands for all of them
    _scales(axes, fired.curve)


def _line(curve: Curve) -> tuple[list[float], list[float]]:
    """Hours and °C; an exponential bent finely, a straight line by its ends."""
    minutes: list[float] = []
    for piece in curve.pieces:
        parts = 1 if piece.toward_c is None else FINEST
        minutes += [piece.starts_min + piece.duration_min * n / parts for n in range(parts)]
    minutes.append(curve.duration_min)
    return [minute / 60 for minute in minutes], [curve.temperature_at(minute) for minute in minutes]


def _scales(axes: Axes, curve: Curve) -> None:
    """°C on the left and °F on the right, always both."""
    end_h = curve.duration_min / 60
    ends_c = [temperature_c for piece in curve.pieces for temperature_c in (piece.from_c, piece.to_c)]
    axes.set_xlim(0, end_h)
    axes.set_ylim(min(0.0, *ends_c), max(ends_c) * 1.08)
    axes.set_xticks(range(0, int(end_h) + 1, _step(end_h)))
    axes.set_xlabel("hours from the start")
    other = axes.secondary_yaxis("right", functions=(_to_f, _to_c))
    other.spines["right"].set_visible(False)
    other.tick_params(length=3)


def _step(end_h: float) -> int:
    return next(step for step in (1, 2, 4, 6, 12, 24, 48, 1000) if end_h / step <= 16)


def _to_f(temperature_c: Any) -> Any:
    return f_from_c(temperature_c)


def _to_c(temperature_f: Any) -> Any:
    return c_from_f(temperature_f)


def _phases(strip: Axes, axes: Axes, curve: Curve) -> None:
    """A band of the phases above the curve, each named; names that would meet stand in rows."""
    strip.set_axis_off()
    strip.set_xlim(0, 1)
    strip.set_ylim(0, 1)
    spans = curve.phase_spans()
    for span, (middle, row) in zip(spans, _rows(spans, curve.duration_min), strict=True):
        left, right = (minute / curve.duration_min for minute in (span.starts_min, span.ends_min))
        colour = PHASE_COLOURS.get(span.phase, QUIET)
        strip.barh(0.5, right - left, left=left, height=1.0, color=colour, edgecolor=PAPER, linewidth=0.8)
        _name(strip, _said(span), colour, middle, row)
        if row:
            _leader(strip, colour, (left + right) / 2, row)
        if span.ends_min < curve.duration_min:
            axes.axvline(span.ends_min / 60, color=colour, linewidth=0.5, alpha=0.35)


def _name(strip: Axes, said: str, colour: str, middle: float, row: int) -> None:
    """On a ground of its own, so that a leader to a higher row passes behind it."""
    strip.annotate(
        said,
        (middle, 1.0),
        xytext=(0, 3 + ROW_PT * row),
        textcoords="offset points",
        ha="center",
        va="bottom",
        color=colour,
        fontsize=8.5,
        annotation_clip=False,
        zorder=4,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
    )


def _leader(strip: Axes, colour: str, centre: float, row: int) -> None:
    strip.annotate(
        "",
        (centre, 1.0),
        xytext=(0, 3 + ROW_PT * row),
        textcoords="offset points",
        annotation_clip=False,
        zorder=3,
        arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.7, "shrinkA": 0, "shrinkB": 0},
    )


def _said(span: PhaseSpan) -> str:
    return f"{span.phase.value} {clock(span.ends_min - span.starts_min)}"


def _rows(spans: Sequence[PhaseSpan], end_min: float) -> list[tuple[float, int]]:
    """Where each name stands, as a part of the width, and in which row it finds room."""
    taken = [0.0] * ROWS
    placed: list[tuple[float, int]] = []
    for span in spans:
        half = LETTER * len(_said(span)) / 2
        middle = min(max((span.starts_min + span.ends_min) / 2 / end_min, half), 1 - half)
        free = [row for row in range(ROWS) if taken[row] <= middle - half]
        row = free[0] if free else min(range(ROWS), key=lambda at: taken[at])
        taken[row] = middle + half
        placed.append((middle, row))
    return placed


def _moments(figure: Figure, axes: Axes, fired: Fired) -> None:
    """A number on the curve for each moment, and what it means below."""
    shown = list(enumerate(fired.moments, start=1))
    for number, (_, minute) in shown:
        if minute > fired.curve.duration_min:
            continue
        at = (minute / 60, fired.curve.temperature_at(minute))
        axes.plot(*at, marker="o", markersize=11, color=GLASS, clip_on=False, zorder=5)
        axes.annotate(
            str(number),
            at,
            ha="center",
            va="center_baseline",
            color=PAPER,
            fontsize=7.5,
            zorder=6,
            annotation_clip=False,
        )
    figure.text(0.07, 0.045, "     ".join(_key(number, moment) for number, moment in shown), color=GLASS)


def _key(number: int, moment: Moment) -> str:
    name, minute = moment
    return f"{number}  {name} {clock(minute)}"
