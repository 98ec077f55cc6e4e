"""The parts of the sheet: its head of days, its strips, and its supplies."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from scheduling.engine.clock import local
from scheduling.selectors.sheet import Strip, SupplyStrip
from scheduling.web.drawing.frame import path, tag, text
from scheduling.web.drawing.ground import WIDTH, Ground, Picture, svg
from scheduling.web.drawing.heated import HEIGHTS, heated
from scheduling.web.drawing.lanes import lanes
from scheduling.wording import dated as said_as
from scheduling.wording import measured, now_said
from studios.said import Form, moment_said

__all__ = ["HEIGHTS", "head", "lanes", "peak", "strip", "supply"]

SUPPLY, LIMIT_AT, HEAD, BELOW_DAYS = 20.0, 3.0, 30.0, 18.0


def strip(one: Strip, ground: Ground) -> Picture:
    """One piece of equipment: a curve where it has a temperature, bars where not."""
    known = (phase.from_c for held in one.held for phase in held.phases)
    if one.rest_c is None and all(celsius is None for celsius in known):
        return lanes([one], ground, one.name)
    return heated(one, ground)


def supply(one: SupplyStrip, ground: Ground) -> Picture:
    """A supply's draw as steps against its limit."""
    top, foot = LIMIT_AT, SUPPLY - 1
    frame = ground.frame

    def y(amount: float) -> float:
        return foot - (foot - top) * min(1.0, amount / one.limit if one.limit else 0.0)

    steps = "".join(f"H{frame.x(minute):.1f}V{y(amount):.1f}" for minute, amount in one.steps)
    body = (
        ground.behind(SUPPLY)
        + path(f"M0 {foot}{steps}H{WIDTH:.0f}V{foot}Z" if steps else "", "draw")
        + path(f"M0 {top}H{WIDTH:.0f}", "limit")
        + ground.now_line(SUPPLY)
    )
    return svg(SUPPLY, f"{one.name}: {peak(one)}", body, elastic=True)


def peak(one: SupplyStrip) -> str:
    """The most that is drawn at once, against what the supply gives."""
    most, limit = measured(one.peak, ""), measured(one.limit, one.unit)
    return _("most %(most)s of %(limit)s") % {"most": most, "limit": limit}


def head(ground: Ground, day_links: Sequence[str]) -> Picture:
    """The days across the top, each a link to that day alone; hours where one day fills the sheet."""
    starts = [at for _, at in ground.days.days]
    inner = _hours(ground) if len(starts) == 1 else _days(ground, day_links)
    midnights = path("".join(f"M{ground.frame.x(at):.1f} 0v{HEAD:.0f}" for at in starts[1:]), "midnight")
    now = ground.now_line(HEAD, BELOW_DAYS)
    body = midnights + inner + (now + _now_word(ground.frame.x(ground.now)) if now else "")
    return svg(HEAD, _("Days") if len(starts) > 1 else _("Hours"), body)


def _days(ground: Ground, day_links: Sequence[str]) -> str:
    return "".join(
        tag(
            "a",
            text(ground.frame.x(at) + 6, 14, now_said(moment_said(day, Form.NAMED)), cls="day-label"),
            href=href,
            aria_label=_("%(day)s alone") % {"day": said_as(day, "l j F")},
        )
        for (day, at), href in zip(ground.days.days, day_links, strict=True)
    )


def _hours(ground: Ground) -> str:
    start, end = ground.days.span
    marks = range(start, end, 120)
    zone = ground.days.studio.zone
    ticks = "".join(f"M{ground.frame.x(at):.1f} 20v10" for at in marks)
    labels = "".join(
        text(ground.frame.x(at) + 3, 14, f"{local(at, zone):%H:%M}", cls="day-label") for at in marks
    )
    return path(ticks, "midnight") + labels


def _now_word(x: float) -> str:
    near_edge = x > WIDTH - 40
    return text(
        x + (-4 if near_edge else 4), 27, _("now"), cls="now-label", text_anchor="end" if near_edge else None
    )
