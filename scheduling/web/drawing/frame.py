"""Minutes to x, degrees to y, and the few shapes every drawing is made of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.html import escape

from scheduling.engine.spans import Span


@dataclass(frozen=True, kw_only=True)
class Frame:
    """A stretch of time laid over a width; what lies outside is drawn at the edge."""

    span: Span
    width: float

    def x(self, minute: float) -> float:
        start, end = self.span
        inside = start if minute < start else min(minute, end)
        return (inside - start) * self.width / (end - start)

    def shows(self, span: Span) -> bool:
        """Whether any of a span lies inside."""
        return span[0] < self.span[1] and span[1] > self.span[0]


@dataclass(frozen=True, kw_only=True)
class Scale:
    """Degrees laid over a height; `pad` is kept free above the hottest."""

    top_c: float
    height: float
    pad: float = 0.0

    def y(self, celsius: float) -> float:
        share = max(0.0, min(1.0, celsius / self.top_c))
        return self.height - share * (self.height - self.pad)


def tag(name: str, body: str = "", **attributes: object) -> str:
    """One element; names with underscores become hyphens, `cls` becomes class, values are escaped.

    The body is markup already: words go in through `text` or `title`.
    """
    parts = "".join(
        f' {"class" if key == "cls" else key.replace("_", "-")}="{escape(_short(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return f"<{name}{parts}>{body}</{name}>" if body else f"<{name}{parts}/>"


def _short(value: object) -> str:
    return f"{value:.1f}".removesuffix(".0") if isinstance(value, float) else str(value)


def text(x: float, y: float, words: str, *, cls: str, text_anchor: str | None = None) -> str:
    """A line of text at a point."""
    return tag("text", escape(words), x=x, y=y, cls=cls, text_anchor=text_anchor)


def title(words: str) -> str:
    """What is said on pointing at a thing."""
    return tag("title", escape(words))


def bands(frame: Frame, spans: Iterable[Span], top: float, height: float) -> str:
    """Rectangles over spans, all in one path."""
    return "".join(
        f"M{frame.x(start):.1f} {top:.1f}H{frame.x(end):.1f}v{height:.1f}H{frame.x(start):.1f}Z"
        for start, end in spans
        if frame.shows((start, end))
    )


def bar(left: float, right: float, top: float, height: float) -> str:
    """A rectangle, as commands of a path."""
    return f"M{left:.1f} {top:.1f}H{right:.1f}v{height:.1f}H{left:.1f}Z"


def path(d: str, cls: str, *, fill: str | None = None, stroke: str | None = None) -> str:
    """A path, or nothing where there is nothing to draw."""
    return tag("path", d=d, cls=cls, fill=fill, stroke=stroke) if d else ""
