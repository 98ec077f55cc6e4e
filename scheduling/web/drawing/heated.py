"""A strip with a temperature: one path for the curve, light fills under it for the phases."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from django.utils.translation import gettext as _

from scheduling.engine.clock import floor_minutes
from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Strip
from scheduling.web.drawing.curve import LOWEST, in_turn
from scheduling.web.drawing.frame import Scale, bar, path, tag, text, title
from scheduling.web.drawing.ground import WIDTH, Ground, Picture, label_at, linked, outages, svg
from scheduling.web.drawing.lanes import bars_of, laid_out, links_of
from scheduling.web.drawing.letters import fits
from scheduling.web.drawing.marks import BREAK, TOPS_C, heat
from scheduling.web.drawing.traced import Trace, filled
from studios.models import EquipmentKind
from studios.thermal.units import c_from_f, f_from_c

HEIGHT, PAD, IDLE = 70.0, 16.0, 20.0
# A level's label: how wide with its degrees, how high; and how far down a holder's title reaches.
LABELLED, LETTERS, TITLE_FOOT = 56.0, 9.5, 16.0
# For each scale, the y of its foot and of its top: what the gradients by temperature are laid over.
HEIGHTS = dict.fromkeys(map(float, TOPS_C), (HEIGHT, PAD))


def heated(one: Strip, ground: Ground) -> Picture:
    """The temperature as one path, the phases as light fills under it, a link over each occupancy."""
    if one.kind == EquipmentKind.FURNACE:
        return always_hot(one, ground)
    if not (one.held or one.outages):
        return idle(one, ground)
    scale = scale_of(one)
    trace = Trace(ground.frame, scale, one.rest_c)
    trace.add(in_turn(held.phases for held in one.held))
    body = (
        ground.behind(HEIGHT)
        + _cold(one.held, ground)
        + filled(trace.areas)
        + _levels(one, ground, scale)
        + outages(one.outages, ground, HEIGHT)
        + path(trace.line, "curve", stroke=heat(scale.top_c))
        + _links(one, ground)
        + _breaks(one.held, ground)
        + ground.now_line(HEIGHT)
    )
    return svg(HEIGHT, one.name, body)


def always_hot(one: Strip, ground: Ground) -> Picture:
    """A furnace: the line of its heat, and below it a lane for each place at which somebody may gather."""
    scale, rest_c = scale_of(one), one.rest_c or 0.0
    y, top = scale.y(rest_c), PAD + 8
    deep = (HEIGHT - top - 2) / one.places
    tops = {(one.uid, place): top + (place - 1) * deep for place in range(1, one.places + 1)}
    laid = laid_out([one], tops, ground)
    degrees = f"{f_from_c(rest_c):.0f} °F" if ground.fahrenheit else f"{rest_c:.0f} °C"
    body = (
        ground.behind(HEIGHT)
        + bars_of(laid, ground, deep)
        + outages(one.outages, ground, HEIGHT)
        + path(f"M0 {y:.1f}H{WIDTH:.0f}", "curve", stroke=heat(scale.top_c))
        + text(3, y - 5, _("%(degrees)s, always hot") % {"degrees": degrees}, cls="level-label")
        + links_of(laid, ground, deep)
        + ground.now_line(HEIGHT)
    )
    return svg(HEIGHT, one.name, body)


def idle(one: Strip, ground: Ground) -> Picture:
    """Nothing happens on it: a low strip with the line of the room's temperature."""
    rest = path(f"M0 {IDLE - 3:.0f}H{WIDTH:.0f}", "curve at-rest")
    return svg(
        IDLE,
        _("%(equipment)s: idle") % {"equipment": one.name},
        ground.behind(IDLE) + rest + ground.now_line(IDLE),
        elastic=True,
    )


def scale_of(one: Strip) -> Scale:
    """The smallest of the scales that takes the hottest the strip gets."""
    temperatures = [c for h in one.held for p in h.phases for c in (p.from_c, p.to_c) if c is not None]
    hottest = max([*temperatures, one.rest_c or 0.0])
    return Scale(top_c=next((top for top in TOPS_C if hottest <= top), TOPS_C[-1]), height=HEIGHT, pad=PAD)


def _cold(held: Iterable[HeldSpan], ground: Ground) -> str:
    """Phases without a temperature, such as loading: a band along the foot."""
    frame, bars = ground.frame, defaultdict(list)
    for one in held:
        for phase in one.phases:
            if phase.from_c is None and frame.shows(phase.span):
                left, right = map(frame.x, phase.span)
                bars[phase.kind].append(bar(left, right, HEIGHT - LOWEST, LOWEST))
    return filled(bars)


def _levels(one: Strip, ground: Ground, scale: Scale) -> str:
    """One or two level lines with their temperature, so that a height can be read.

    The temperatures stand on their lines; where a title begins there, all of them stand below.
    """
    fahrenheit = ground.fahrenheit
    steps = (1000, 2000) if fahrenheit else (500, 1000)
    unit = "°F" if fahrenheit else "°C"
    at_c = [(c_from_f(step) if fahrenheit else float(step), step) for step in steps]
    shown = [(scale.y(c), step) for c, step in at_c if c < scale.top_c]
    lines = "".join(f"M0 {y:.1f}H{WIDTH:.0f}" for y, _ in shown)
    below = _titled_at_left(one, ground) and any(y - 2 - LETTERS < TITLE_FOOT for y, _ in shown)
    labels = "".join(
        text(3, y + LETTERS + 1 if below else y - 2, f"{step} {unit}", cls="level-label") for y, step in shown
    )
    return path(lines, "level") + labels


def _titled_at_left(one: Strip, ground: Ground) -> bool:
    """The name of a holder begins where the levels are labelled."""
    return any(ground.frame.shows(held.span) and ground.frame.x(held.span[0]) < LABELLED for held in one.held)


def _links(one: Strip, ground: Ground) -> str:
    """A link over each occupancy, labelled where the next one leaves room."""
    frame = ground.frame
    shown = [held for held in one.held if frame.shows(held.span)]
    edges = [(frame.x(held.span[0]), frame.x(held.span[1])) for held in shown]
    starts = [left for left, _ in edges]
    return "".join(
        linked(
            held,
            bar(left, right, 0, HEIGHT),
            label_at(left + 3, 12.0, fits(ground.name(held), _room(left, starts) - 6)),
            ground,
            equipment=one.uid,
        )
        for held, (left, right) in zip(shown, edges, strict=True)
    )


def _room(start: float, starts: Sequence[float]) -> float:
    return next((other for other in starts if other > start), WIDTH) - start


def _breaks(held: Iterable[HeldSpan], ground: Ground) -> str:
    """Where a firing broke off between annealing and strain point, and that its glass waits for another."""
    broken = [floor_minutes(one.broken_at) for one in held if one.broken_at is not None]
    return "".join(_break(minute, ground) for minute in broken if ground.frame.shows((minute, minute + 1)))


def _break(minute: int, ground: Ground) -> str:
    x, words = ground.frame.x(minute), _("broke off: anneal again")
    left, anchor = (x + 8, None) if x < WIDTH / 2 else (x - 8, "end")
    bolt = tag("path", d=f"M{x:.1f} {PAD:.0f}{BREAK}", cls="break")
    return tag("g", title(words) + bolt + text(left, 27.0, words, cls="break-label", text_anchor=anchor))
