"""What every strip of a studio shares: its hours, its clock and its links."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from scheduling.selectors.held import HeldSpan, Holder
from scheduling.selectors.sheet import OutageSpan, StudioDays
from scheduling.web.drawing.frame import Frame, bands, path, tag, text, title
from scheduling.web.drawing.marks import fill
from scheduling.wording import temperature_unit
from studios.thermal import Phase

WIDTH = 1008.0
LETTER = 6.3  # the width of a letter in a label, about

Link = Callable[[Holder], str]
Say = Callable[[HeldSpan], str]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What every strip of a studio shares: its hours, its clock, its unit, and how holders are linked."""

    days: StudioDays
    frame: Frame
    now: int
    link: Link
    say: Say

    @classmethod
    def over(cls, days: StudioDays, *, now: int, link: Link, say: Say) -> Ground:
        """The ground of a studio's days, at the sheet's own width."""
        return cls(days=days, frame=Frame(span=days.span, width=WIDTH), now=now, link=link, say=say)

    @property
    def fahrenheit(self) -> bool:
        return temperature_unit(self.days.studio) == "F"

    def behind(self, height: float) -> str:
        """Staffed hours light, the rest dark, closed days hatched, a line at each midnight."""
        midnights = "".join(f"M{self.frame.x(at):.1f} 0v{height:.0f}" for _, at in self.days.days[1:])
        closed = (span for span, _ in self.days.closures)
        return (
            f'<rect class="night" width="{WIDTH:.0f}" height="{height:.0f}"/>'
            + path(bands(self.frame, self.days.staffed, 0, height), "staffed")
            + path(bands(self.frame, closed, 0, height), "closed", fill=fill(Phase.WAITING))
            + path(midnights, "midnight")
        )

    def now_line(self, height: float, top: float = 0.0) -> str:
        """Where we are, if that is on the sheet; from `top` down to `height`."""
        if not self.frame.shows((self.now, self.now + 1)):
            return ""
        return path(f"M{self.frame.x(self.now):.1f} {top:.0f}V{height:.0f}", "now")


def svg(height: float, label: str, body: str) -> str:
    """A strip's own picture, with its name for those who do not see it."""
    return tag(
        "svg", body, cls="strip", viewBox=f"0 0 {WIDTH:.0f} {height:.0f}", role="group", aria_label=label
    )


def outages(down: Iterable[OutageSpan], ground: Ground, height: float, top: float = 0.0) -> str:
    """Out of use: crossed, with the reason as far as it fits, and in full on pointing."""
    return "".join(_outage(one, ground, height, top) for one in down if ground.frame.shows(one.span))


def _outage(one: OutageSpan, ground: Ground, height: float, top: float) -> str:
    words = f"Out of use: {one.reason}"
    left, right = (ground.frame.x(minute) for minute in one.span)
    label = fitted(words, right - left - 6)
    crossed = tag(
        "path", d=bands(ground.frame, [one.span], top, height), cls="outage", fill=fill(Phase.OUTAGE)
    )
    name = text(left + 3, top + height / 2 + 4, label, cls="label") if label else ""
    return tag("g", title(words) + crossed + name)


def linked(one: HeldSpan, area: str, ground: Ground, *, label_at: tuple[float, float], room: float) -> str:
    """A link over what is held, with its name for those who point at it and a label as far as it fits."""
    holder = one.holder
    whose = f"{holder.title}, {holder.who}" if holder.who else holder.title
    label = whose if len(whose) * LETTER <= room - 6 else fitted(holder.title, room - 6)
    name = text(*label_at, label, cls="label") if label else ""
    said = ground.say(one)
    href = ground.link(holder)
    hit = tag("path", d=area, cls="hit mine" if holder.mine else "hit")
    body = title(said) + hit + name
    return tag("a", body, href=href, aria_label=said, cls="held") if href else tag("g", body, cls="held")


def fitted(words: str, room: float) -> str:
    """As much of a label as there is room for; nothing where not even a few letters fit."""
    letters = int(room / LETTER)
    if letters >= len(words):
        return words
    return f"{words[: letters - 1].rstrip()}…" if letters >= 5 else ""
