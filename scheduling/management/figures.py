"""Drawings of the commands: the pages' colours by day, the same file for the same numbers, SVG or PNG."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from studios.errors import LehrbookError

# The tokens of the pages, by day.
PAPER, INK, QUIET, LINE, EDGE = "#fbfdfb", "#14211d", "#495a54", "#c3d0ca", "#74877f"
GLASS, GLOW, GLOW_SOFT = "#0a5a51", "#a33c08", "#fbe6d6"
HEAT = ("#15695f", "#2c7566", "#7a3a62", "#b22c18", "#cd5207", "#c57600")

STYLE: Any = {
    "font.family": "DejaVu Sans",  # comes with the library, so it is the same everywhere
    "font.size": 9.0,
    "text.color": INK,
    "axes.labelcolor": QUIET,
    "axes.edgecolor": EDGE,
    "xtick.color": QUIET,
    "ytick.color": QUIET,
    "svg.fonttype": "none",
    "svg.hashsalt": "lehrbook",
}
CANVASES: dict[str, type[FigureCanvasAgg | FigureCanvasSVG]] = {
    ".svg": FigureCanvasSVG,
    ".png": FigureCanvasAgg,
}


class UnknownFigureFormat(LehrbookError):
    code = "unknown-figure-format"
    template = "A figure is written as .svg or .png; {name} ends in neither."


class FigureNotWritten(LehrbookError):
    code = "figure-not-written"
    template = "{path} cannot be written: {cause}."


def require_format(path: Path) -> None:
    """Raises UnknownFigureFormat; asked before the work is done."""
    if path.suffix.lower() not in CANVASES:
        raise UnknownFigureFormat(field="figure", name=path.name)


@contextmanager
def styled() -> Iterator[None]:
    """The house's style, for as long as a figure is drawn and saved."""
    with mpl.rc_context(STYLE):
        yield


def new_figure(width_in: float, height_in: float) -> Figure:
    return Figure(figsize=(width_in, height_in), dpi=150, facecolor=PAPER)


def calm(axes: Axes) -> None:
    """Only what carries a number is drawn."""
    axes.set_facecolor(PAPER)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    axes.grid(axis="y", color=LINE, linewidth=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(length=3)


def save(figure: Figure, path: Path, title: str) -> None:
    """Write by the suffix; no date and no version, so the same numbers make the same bytes.

    Raises UnknownFigureFormat or FigureNotWritten.
    """
    require_format(path)
    suffix = path.suffix.lower()
    canvas = CANVASES[suffix](figure)
    said: dict[str, str | None] = {"Title": title}
    said |= {"Date": None, "Creator": "Lehrbook"} if suffix == ".svg" else {"Software": "Lehrbook"}
    try:
        canvas.figure.savefig(path, format=suffix[1:], metadata=said, facecolor=PAPER)
    except OSError as error:
        raise FigureNotWritten(field="figure", path=path, cause=error.strerror) from error
