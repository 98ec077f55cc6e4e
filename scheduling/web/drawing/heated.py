"""A strip with a temperature: one path for the curve, light fills under it for the phases."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Strip
from scheduling.web.drawing.curve import fills, in_turn, line
from scheduling.web.drawing.frame import Scale, bands, path, text
from scheduling.web.drawing.ground import WIDTH, Ground, linked, outages, svg
from scheduling.web.drawing.marks import TOPS_C, fill, heat
from studios.models import EquipmentKind
from studios.thermal import Phase
from studios.thermal.units import c_from_f, f_from_c

HEIGHT, PAD, IDLE = 70.0, 16.0, 28.0
# A level's label: how wide with its degrees, how high; and how far down a holder's title reaches.
LABELLED, LETTERS, TITLE_FOOT = 110.0, 9.5, 16.0
# For each scale, the y of its foot and of its top: what the gradients by temperature are laid over.
HEIGHTS = dict.fromkeys(map(float, TOPS_C), (HEIGHT, PAD))


def heated(one: Strip, ground: Ground) -> str:
    """The temperature as one path, the phases as light fills under it, a link over each occupancy."""
    always_hot = one.kind == EquipmentKind.FURNACE
    if not (one.held or one.outages or always_hot):
        return idle(one, ground)
    scale = scale_of(one)
    pieces = in_turn([] if always_hot else [held.phases for held in one.held])
    inner = _places(one, ground) if always_hot else fills([*_cold(one.held), *pieces], ground.frame, scale)
    curve = line(pieces, one.rest_c, ground.frame, scale)
    body = (
        ground.behind(HEIGHT)
        + inner
        + ("" if always_hot else _levels(one, ground, scale))
        + outages(one.outages, ground, HEIGHT)
        + path(curve, "curve", stroke=heat(scale.top_c))
        + (_always(one, ground, scale) if always_hot else "")
        + _links(one.held, ground)
        + ground.now_line(HEIGHT)
    )
    return svg(HEIGHT, one.name, body)


def idle(one: Strip, ground: Ground) -> str:
    """Nothing happens on it: a low strip with the line of the room's temperature."""
    rest = path(f"M0 {IDLE - 3:.0f}H{WIDTH:.0f}", "curve at-rest")
    return svg(IDLE, f"{one.name}: idle", ground.behind(IDLE) + rest + ground.now_line(IDLE))


def _always(one: Strip, ground: Ground, scale: Scale) -> str:
    celsius = one.rest_c or 0.0
    words = f"{f_from_c(celsius):.0f} °F" if ground.fahrenheit else f"{celsius:.0f} °C"
    y = _beside(scale.y(celsius), 5, clear=_titled_at_left(one, ground))
    return text(3, y, f"{words}, always hot", cls="level-label")


def scale_of(one: Strip) -> Scale:
    """The smallest of the scales that takes the hottest the strip gets."""
    temperatures = [c for h in one.held for p in h.phases for c in (p.from_c, p.to_c) if c is not None]
    hottest = max([*temperatures, one.rest_c or 0.0])
    return Scale(top_c=next((top for top in TOPS_C if hottest <= top), TOPS_C[-1]), height=HEIGHT, pad=PAD)


def _cold(held: Iterable[HeldSpan]) -> list[tuple[PhaseSpan, Span]]:
    """Phases without a temperature, such as loading."""
    return [(phase, phase.span) for one in held for phase in one.phases if phase.from_c is None]


def _places(one: Strip, ground: Ground) -> str:
    """Gatherers at a furnace, each place a lane below the line of its heat."""
    top, deep = PAD + 8, (HEIGHT - PAD - 10) / one.places
    bars: dict[Phase, str] = defaultdict(str)
    for held in one.held:
        for phase in held.phases:
            bars[phase.kind] += bands(ground.frame, [phase.span], top + (held.place - 1) * deep, deep - 2)
    return "".join(path(d, "phase", fill=fill(kind)) for kind, d in bars.items())


def _levels(one: Strip, ground: Ground, scale: Scale) -> str:
    """One or two level lines with their temperature, so that a height can be read."""
    fahrenheit, titled = ground.fahrenheit, _titled_at_left(one, ground)
    steps = (1000, 2000) if fahrenheit else (500, 1000)
    unit = "°F" if fahrenheit else "°C"
    at_c = [(c_from_f(step) if fahrenheit else float(step), step) for step in steps]
    shown = [(scale.y(c), step) for c, step in at_c if c < scale.top_c]
    lines = "".join(f"M0 {y:.1f}H{WIDTH:.0f}" for y, _ in shown)
    labels = "".join(
        text(3, _beside(y, 2, clear=titled), f"{step} {unit}", cls="level-label") for y, step in shown
    )
    return path(lines, "level") + labels


def _titled_at_left(one: Strip, ground: Ground) -> bool:
    """The name of a holder begins where the levels are labelled."""
    return any(ground.frame.shows(held.span) and ground.frame.x(held.span[0]) < LABELLED for held in one.held)


def _beside(y: float, gap: float, *, clear: bool) -> float:
    """Where a level's label stands: on its line, or below it where that would run into a title."""
    return y + LETTERS + 1 if clear and y - gap - LETTERS < TITLE_FOOT else y - gap


def _links(held: Sequence[HeldSpan], ground: Ground) -> str:
    """A link over each occupancy, labelled as far as the next one leaves room."""
    frame = ground.frame
    shown = [one for one in held if frame.shows(one.span)]
    starts = [frame.x(one.span[0]) for one in shown]
    return "".join(
        linked(
            one,
            bands(frame, [one.span], 0, HEIGHT),
            ground,
            label_at=(start + 3, 12.0),
            room=_room(start, starts),
        )
        for one, start in zip(shown, starts, strict=True)
    )


def _room(start: float, starts: Sequence[float]) -> float:
    return next((other for other in starts if other > start), WIDTH) - start
