"""How each phase looks: a tint and a mark, so that no phase is told by its colour alone."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from studios.thermal import Phase

# A tile of 8 by 8; each mark is different in shape, not only in colour.
MARKS = {
    Phase.DRYING: "M1 1h1M5 5h1",
    Phase.LOADING: "M2 0V8",
    Phase.PURGE: "M2 4h4M4 2v4",
    Phase.HEAT_UP: "M-1 9L9 -1M-1 1L1 -1M7 9L9 7",
    Phase.HOLDING: "M0 4H3",
    Phase.WORKING: "",
    Phase.SOAK: "M0 1.5H8M0 5.5H8",
    Phase.ANNEALING: "M-1 -1L9 9M3 -1L9 5M-1 3L5 9",
    Phase.COOLING: "M-1 -1L9 9",
    Phase.WAITING: "M1.5 2h1.6M5.5 6h1.6",
    Phase.UNLOADING: "M2 0V8M5 0V8",
    Phase.CHARGING: "M1 6L4 2L7 6",
    Phase.FINING: "M4 2.5a1.5 1.5 0 1 0 .01 0",
    Phase.OUTAGE: "M-1 -1L9 9M-1 9L9 -1",
}
SAID: dict[Phase, Promise] = {
    Phase.DRYING: _("shelf wash dries"),
    Phase.LOADING: _("being loaded"),
    Phase.PURGE: _("gas purged and checked"),
    Phase.HEAT_UP: _("heats up"),
    Phase.HOLDING: _("kept at one temperature"),
    Phase.WORKING: _("in use"),
    Phase.SOAK: _("glass evens out"),
    Phase.ANNEALING: _("cools slowly through the annealing range"),
    Phase.COOLING: _("cools"),
    Phase.WAITING: _("loaded, or cool; nobody is needed or there yet"),
    Phase.UNLOADING: _("being unloaded"),
    Phase.CHARGING: _("furnace is charged"),
    Phase.FINING: _("melt clears of bubbles"),
    Phase.OUTAGE: _("out of use"),
}
# A bolt downwards from where the pen stands: a firing that broke off.
BREAK = "l-4 12h8l-5 13"
# Degrees at which the colour of the curve turns, from stone cold to furnace heat.
STOPS_C = (0, 150, 420, 620, 900, 1250)
TOPS_C = (600, 900, 1250)


def fill(kind: Phase) -> str:
    """The paint of a phase, as an SVG attribute value."""
    return f"url(#mark-{kind.value})"


def heat(top_c: float) -> str:
    """The paint of a curve on a scale."""
    return f"url(#heat-{top_c:.0f})"


def definitions(heights: dict[float, tuple[float, float]]) -> str:
    """Patterns for the phases and, for each scale, a gradient by temperature; once for each page.

    `heights` gives for each scale's top the y of its foot and of its top.
    """
    gradients = "".join(_gradient(top_c, foot, head) for top_c, (foot, head) in heights.items())
    patterns = "".join(_pattern(kind, mark) for kind, mark in MARKS.items())
    return (
        f'<svg class="defs" width="0" height="0" aria-hidden="true"><defs>{patterns}{gradients}</defs></svg>'
    )


def _pattern(kind: Phase, mark: str) -> str:
    lines = f'<path class="mark mark-{kind.value}" d="{mark}"/>' if mark else ""
    return (
        f'<pattern id="mark-{kind.value}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<rect class="tint tint-{kind.value}" width="8" height="8"/>{lines}</pattern>'
    )


def _gradient(top_c: float, foot: float, head: float) -> str:
    stops = "".join(
        f'<stop class="heat-{number}" offset="{min(1.0, stop_c / top_c):.3f}"/>'
        for number, stop_c in enumerate(STOPS_C)
    )
    return (
        f'<linearGradient id="heat-{top_c:.0f}" gradientUnits="userSpaceOnUse" x1="0" x2="0" '
        f'y1="{foot:.0f}" y2="{head:.0f}">{stops}</linearGradient>'
    )


def swatch(kind: Phase) -> str:
    """A small sample of a phase for the legend."""
    return sample(f'<rect width="32" height="16" fill="{fill(kind)}"/>')


def sample(body: str) -> str:
    """A small sample of anything that is drawn."""
    return f'<svg class="swatch" viewBox="0 0 32 16" width="32" height="16" aria-hidden="true">{body}</svg>'
