"""The week sheet for those who read rather than look: a line for each thing that is held or out of use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import Strip
from scheduling.web.links import holder_link, whose


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of the table; `href` leads to the page of what holds it, where it has one."""

    name: str
    words: str
    href: str
    span: Span
    phases: tuple[PhaseSpan, ...]
    broken_at: dt.datetime | None = None


def lines_of(strips: Sequence[Strip]) -> Iterator[Line]:
    """Equipment in the order of the sheet, each in order of time; where it is out of use comes after."""
    for strip in strips:
        yield from (_held(strip, held) for held in strip.held)
        for down in strip.outages:
            words = _("out of use: %(reason)s") % {"reason": down.reason}
            yield Line(name=strip.name, words=words, href="", span=down.span, phases=())


def _held(strip: Strip, held: HeldSpan) -> Line:
    place = _("%(equipment)s, place %(number)s") % {"equipment": strip.name, "number": held.place}
    return Line(
        name=place if strip.places > 1 else strip.name,
        words=whose(held.holder),
        href=holder_link(held.holder),
        span=held.span,
        phases=held.phases,
        broken_at=held.broken_at,
    )
