"""Days and nights over the strips of a plan: a line at each midnight, a day named where there is room."""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from scheduling.engine.clock import local, whole_days
from scheduling.engine.spans import Span
from scheduling.web.drawing.frame import Frame, tag
from scheduling.web.drawing.held import WIDTH
from scheduling.wording import now_said
from studios.said import Form, moment_said

HEIGHT = 20
MOST_NAMED = 4


def days_over(spans: Iterable[Span], zone: ZoneInfo) -> Frame:
    """From the midnight before the first to the midnight after the last, by a clock."""
    every = list(spans)
    first, last = min(begin for begin, _ in every), max(end for _, end in every)
    days = [span for _, span in whole_days(first, last, zone)]
    return Frame(span=(days[0][0], days[-1][1]), width=WIDTH)


def day_strip(frame: Frame, zone: ZoneInfo) -> SafeString:
    """The days of a plan, by name, each over its own hours."""
    days = [span for _, span in whole_days(*frame.span, zone)]
    every = -(-len(days) // MOST_NAMED)
    named = [number % every == 0 for number in range(len(days))]
    body = "".join(
        _line(frame, begin, whole=whole) for (begin, _), whole in zip(days, named, strict=True)
    ) + "".join(_name(frame, begin, zone) for (begin, _), whole in zip(days, named, strict=True) if whole)
    drawn = tag("svg", body, cls="held-clock nights-clock", height=HEIGHT, aria_hidden="true")
    return mark_safe(drawn)  # noqa: S308 - every word in it is escaped where it is drawn


def _percent(frame: Frame, minute: float) -> float:
    return frame.x(minute) / WIDTH * 100


def _line(frame: Frame, minute: int, *, whole: bool) -> str:
    """A midnight: as high as the strip where its day is named, else a mark at its foot."""
    at = f"{_percent(frame, minute):.2f}%"
    return tag("line", cls="midnight", x1=at, x2=at, y1=0 if whole else HEIGHT - 5, y2=HEIGHT)


def _name(frame: Frame, minute: int, zone: ZoneInfo) -> str:
    words = now_said(moment_said(local(minute, zone), Form.NAMED))
    at = f"{_percent(frame, minute):.2f}%"
    return tag("text", escape(words), x=at, dx=4, y=HEIGHT - 7, cls="hour-label")
