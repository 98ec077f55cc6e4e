"""What an option holds, drawn: one clock for all of it, and below it a small strip for each piece.

Nothing in a strip is text, so it is drawn to any width: its hours stay where they are, its lines keep their
thickness. What has to be read stands beside it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from django.utils.html import escape
from django.utils.translation import pgettext

from scheduling.engine.clock import local
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.web.drawing.curve import fills, line
from scheduling.web.drawing.frame import Frame, Scale, bands, path, tag
from scheduling.web.drawing.marks import TOPS_C, fill, heat
from scheduling.wording import dated

WIDTH, HEIGHT, PAD = 600.0, 34.0, 4.0
# For each scale, the y of its foot and of its top: what the gradients by temperature are laid over.
HEIGHTS = dict.fromkeys(map(float, TOPS_C), (HEIGHT, PAD))
# What has no temperature is a bar of this height.
BAR = 16.0
STEPS_H = (1, 2, 3, 6, 12, 24)
MOST_MARKS = 5
# A mark so near an edge would be cut there.
EDGE = 7.0
CLOCK_HEIGHT = 32


def frame_of(spans: Iterable[Span]) -> Frame:
    """From the hour in which the first is held to that in which the last is free again."""
    every = list(spans)
    first, last = min(start for start, _ in every), max(end for _, end in every)
    return Frame(span=(first - first % 60, last + -last % 60), width=WIDTH)


def held_strip(phases: Sequence[PhaseSpan], taught: Span, staffed: Iterable[Span], frame: Frame) -> str:
    """One piece: light where somebody is there, its phases, a line for its heat, the class between lines."""
    body = (
        f'<rect class="night" width="{WIDTH:.0f}" height="{HEIGHT:.0f}"/>'
        + path(bands(frame, staffed, 0, HEIGHT), "staffed")
        + _held(phases, frame)
        + path("".join(f"M{frame.x(at):.1f} 0v{HEIGHT:.0f}" for at in taught), "taught")
    )
    return tag(
        "svg",
        body,
        cls="held-strip",
        viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}",
        preserveAspectRatio="none",
        aria_hidden="true",
    )


def _held(phases: Sequence[PhaseSpan], frame: Frame) -> str:
    """A curve over its phases where there is a temperature, a bar where there is none."""
    known = [c for phase in phases for c in (phase.from_c, phase.to_c) if c is not None]
    if not known:
        top = (HEIGHT - BAR) / 2
        return "".join(
            path(bands(frame, [phase.span], top, BAR), "phase", fill=fill(phase.kind)) for phase in phases
        )
    scale = Scale(
        top_c=next((top for top in TOPS_C if max(known) <= top), TOPS_C[-1]), height=HEIGHT, pad=PAD
    )
    pieces = [(phase, phase.span) for phase in phases]
    heated = [piece for piece in pieces if piece[0].from_c is not None]
    curve = line(heated, None, frame, scale)
    return fills(pieces, frame, scale) + path(curve, "curve", stroke=heat(scale.top_c))


def clock_strip(frame: Frame, taught: Span, zone: ZoneInfo) -> str:
    """The hours over all strips of an option, a day named where it begins, and the class itself."""
    left, right = (_percent(frame, at) for at in taught)
    middle = min(max((left + right) / 2, EDGE), 100 - EDGE)
    body = (
        tag("rect", cls="taught-bar", x=f"{left:.2f}%", width=f"{right - left:.2f}%", y=13, height=4)
        + _words(middle, 10, pgettext("over its hours on a strip", "class"), "taught-label")
        + "".join(_mark(frame, at, zone) for at in _marks(frame, zone))
    )
    return tag("svg", body, cls="held-clock", height=CLOCK_HEIGHT, aria_hidden="true")


def _percent(frame: Frame, minute: int) -> float:
    return frame.x(minute) / WIDTH * 100


def _marks(frame: Frame, zone: ZoneInfo) -> list[int]:
    """Few enough hours to be read on a phone."""
    start, end = frame.span
    step = next((h for h in STEPS_H if (end - start) / (h * 60) <= MOST_MARKS), STEPS_H[-1])
    hours = (at for at in range(start, end + 1, 60) if local(at, zone).hour % step == 0)
    return [at for at in hours if EDGE <= _percent(frame, at) <= 100 - EDGE]


def _mark(frame: Frame, minute: int, zone: ZoneInfo) -> str:
    when = local(minute, zone)
    words = dated(when, "D j M") if when.hour == 0 else f"{when:%H:%M}"
    return _words(_percent(frame, minute), CLOCK_HEIGHT - 3, words, "hour-label")


def _words(percent: float, y: float, words: str, cls: str) -> str:
    return tag("text", escape(words), x=f"{percent:.2f}%", y=y, cls=cls, text_anchor="middle")
