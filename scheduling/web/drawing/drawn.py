"""A supply around the hours of a torch: who draws how much of it, one torch more, and the limit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.utils.safestring import SafeString, mark_safe

from scheduling.engine.clock import local
from scheduling.engine.spans import Span
from scheduling.selectors.torch_supplies import AROUND_MIN, Drawn, SupplyAt
from scheduling.web.drawing.frame import Frame, path, tag, text, title
from scheduling.wording import measured

WIDTH, TOP, HEIGHT, FOOT = 360.0, 14.0, 96.0, 16.0
LETTER = 6.3  # how wide a letter of a label is, about
HOUR = 60
MOST_LABELS = 7

Level = tuple[Span, float]


class Picture:
    """Minutes over the width, an amount over the height; what is over the limit rises above its line."""

    def __init__(self, supply: SupplyAt, span: Span) -> None:
        self.asked = span
        self.frame = Frame(span=(span[0] - AROUND_MIN, span[1] + AROUND_MIN), width=WIDTH)
        self.supply = supply
        self._top = max(supply.limit, max(_levels(supply.drawn), default=0.0) + supply.each) * 1.04

    def y(self, amount: float) -> float:
        return HEIGHT - amount / self._top * (HEIGHT - TOP)

    def box(self, span: Span, low: float, high: float) -> str:
        """One rectangle of a path."""
        left, right = self.frame.x(span[0]), self.frame.x(span[1])
        return f"M{left:.1f} {self.y(low):.1f}H{right:.1f}V{self.y(high):.1f}H{left:.1f}Z"

    def cross(self, span: Span, low: float, high: float) -> str:
        """From corner to corner of it."""
        left, right = self.frame.x(span[0]), self.frame.x(span[1])
        low, high = self.y(low), self.y(high)
        return f"M{left:.1f} {low:.1f}L{right:.1f} {high:.1f}M{left:.1f} {high:.1f}L{right:.1f} {low:.1f}"


def drawn(supply: SupplyAt, span: Span, zone: ZoneInfo, label: str) -> SafeString:
    """The picture of one supply; the words beside it say the same."""
    picture = Picture(supply, span)
    body = (
        _ground(picture)
        + "".join(_share(picture, number) for number in range(len(supply.drawn)))
        + _one_more(picture)
        + _limit(picture)
        + _hours(picture, zone)
    )
    box = f"0 0 {WIDTH:.0f} {HEIGHT + FOOT:.0f}"
    return mark_safe(tag("svg", body, cls="drawn", viewBox=box, role="img", aria_label=label))  # noqa: S308  # every word is escaped by tag and text


def _ground(picture: Picture) -> str:
    """The hours asked for stand out of those around them."""
    left, right = (picture.frame.x(minute) for minute in picture.asked)
    return tag("rect", cls="night", width=WIDTH, height=HEIGHT) + tag(
        "rect", cls="staffed", x=left, width=right - left, height=HEIGHT
    )


def _levels(every: Sequence[Drawn]) -> Iterator[float]:
    """What is drawn at once, whenever somebody begins."""
    for begun in every:
        yield sum(one.amount for one in every if one.span[0] <= begun.span[0] < one.span[1])


def _share(picture: Picture, number: int) -> str:
    """What one of them draws, on top of what those draw who stand before it."""
    own = picture.supply.drawn[number]
    below = picture.supply.drawn[:number]
    steps = [(part, _total(below, part[0])) for part in _parts(own.span, below)]
    d = "".join(picture.box(part, low, low + own.amount) for part, low in steps)
    words = title(f"{own.who}: {measured(own.amount, picture.supply.unit)}")
    return tag("g", words + path(d, "share") + _name(picture, own, steps))


def _parts(span: Span, others: Sequence[Drawn]) -> list[Span]:
    """A span cut wherever another begins or ends."""
    cuts = {edge for one in others for edge in one.span if span[0] < edge < span[1]}
    edges = [span[0], *sorted(cuts), span[1]]
    return list(pairwise(edges))


def _total(every: Sequence[Drawn], minute: int) -> float:
    return sum(one.amount for one in every if one.span[0] <= minute < one.span[1])


def _name(picture: Picture, own: Drawn, steps: Sequence[Level]) -> str:
    """Its name in the widest part of it that can be seen, or none where that is too small."""
    seen = [(_seen(picture, part), low) for part, low in steps]
    (left, right), low = max(seen, key=lambda one: one[0][1] - one[0][0])
    high, foot = picture.y(low + own.amount), picture.y(low)
    if right - left < LETTER * len(own.who) + 4 or foot - high < 11:
        return ""
    return text((left + right) / 2, (high + foot) / 2 + 4, own.who, cls="share-name", text_anchor="middle")


def _seen(picture: Picture, span: Span) -> tuple[float, float]:
    return picture.frame.x(span[0]), picture.frame.x(span[1])


def _one_more(picture: Picture) -> str:
    """One torch more in the hours asked for; where the supply does not give it, that part is struck."""
    supply = picture.supply
    fits, lacks, cross = "", "", ""
    for part in _parts(picture.asked, supply.drawn):
        low = _total(supply.drawn, part[0])
        box = picture.box(part, low, low + supply.each)
        if low + supply.each > supply.limit + 1e-9:
            lacks += box
            cross += picture.cross(part, low, low + supply.each)
        else:
            fits += box
    return path(fits, "one-more") + path(lacks, "one-too-many") + path(cross, "too-many-cross")


def _limit(picture: Picture) -> str:
    y = picture.y(picture.supply.limit)
    said = measured(picture.supply.limit, picture.supply.unit)
    return path(f"M0 {y:.1f}H{WIDTH:.0f}", "limit") + text(3, y - 3, said, cls="limit-name")


def _hours(picture: Picture, zone: ZoneInfo) -> str:
    """The clock below, by whole hours; fewer of them where there are many."""
    start, end = picture.frame.span
    step = HOUR * -(-(end - start) // (HOUR * MOST_LABELS))
    first = start + -local(start, zone).minute % HOUR
    minutes = [minute for minute in range(first, end, step) if 14 <= picture.frame.x(minute) <= WIDTH - 14]
    ticks = "".join(f"M{picture.frame.x(minute):.1f} {HEIGHT:.0f}v4" for minute in minutes)
    return path(ticks, "tick") + "".join(
        text(
            picture.frame.x(minute),
            HEIGHT + FOOT - 3,
            f"{local(minute, zone):%H:%M}",
            cls="axis-label",
            text_anchor="middle",
        )
        for minute in minutes
    )
