"""What every strip of a studio shares: its hours, its clock and its links."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from html import escape
from uuid import UUID

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from scheduling.selectors.held import HeldSpan
from scheduling.selectors.sheet import StudioDays
from scheduling.selectors.sheet_rows import OutageSpan
from scheduling.web.drawing.frame import Frame, bands, path, tag, text, title
from scheduling.web.drawing.letters import fits
from scheduling.web.drawing.marks import fill
from scheduling.wording import temperature_unit
from studios.thermal import Phase

WIDTH = 1008.0

Link = Callable[[UUID, HeldSpan], str]
Say = Callable[[HeldSpan], str]
Name = Callable[[HeldSpan], tuple[str, ...]]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What every strip of a studio shares: its hours, its clock, its unit, and how what is held is said.

    `link` is where a piece is opened, escaped; `say` all that is said of it on pointing; `name` what may
    stand beside it, the longest first. `opened` is the link of the piece that is open.
    """

    days: StudioDays
    frame: Frame
    now: int
    link: Link
    say: Say
    name: Name
    opened: str = ""
    _behind: dict[float, str] = field(default_factory=dict)

    @classmethod
    def over(
        cls, days: StudioDays, *, now: int, link: Link, say: Say, name: Name, opened: str = ""
    ) -> Ground:
        """The ground of a studio's days, at the sheet's own width."""
        frame = Frame(span=days.span, width=WIDTH)
        return cls(days=days, frame=frame, now=now, link=link, say=say, name=name, opened=opened)

    @property
    def fahrenheit(self) -> bool:
        return temperature_unit(self.days.studio) == "F"

    def behind(self, height: float) -> str:
        """Staffed hours light, the rest dark, closed days hatched, a line at each midnight."""
        if height not in self._behind:
            self._behind[height] = self._drawn_behind(height)
        return self._behind[height]

    def _drawn_behind(self, height: float) -> str:
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


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A strip as it is drawn, and how high it is."""

    height: float
    markup: SafeString


def svg(height: float, label: str, body: str, *, elastic: bool = False) -> Picture:
    """A strip's own picture, with its name for those who do not see it; without letters it may stretch."""
    box = f"0 0 {WIDTH:.0f} {height:.0f}"
    cls, ratio = ("strip elastic", "none") if elastic else ("strip", None)
    drawn = tag("svg", body, cls=cls, viewBox=box, preserveAspectRatio=ratio, role="group", aria_label=label)
    return Picture(height=height, markup=mark_safe(drawn))  # noqa: S308 - our own drawing


def outages(down: Iterable[OutageSpan], ground: Ground, height: float, top: float = 0.0) -> str:
    """Out of use: crossed, with the reason where there is room for it, and in full on pointing."""
    return "".join(_outage(one, ground, height, top) for one in down if ground.frame.shows(one.span))


def _outage(one: OutageSpan, ground: Ground, height: float, top: float) -> str:
    words = _("Out of use: %(reason)s") % {"reason": one.reason}
    left, right = (ground.frame.x(minute) for minute in one.span)
    label = fits((words, one.reason, _("Out of use")), right - left - 6)
    crossed = tag(
        "path", d=bands(ground.frame, [one.span], top, height), cls="outage", fill=fill(Phase.OUTAGE)
    )
    name = text(left + 3, top + height / 2 + 4, label, cls="label") if label else ""
    return tag("g", title(words) + crossed + name)


def label_at(x: float, y: float, words: str, anchor: str | None = None) -> str:
    """A name where it stands; nothing where it is empty."""
    to_left = f' text-anchor="{anchor}"' if anchor else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" class="label"{to_left}>{escape(words)}</text>' if words else ""


def linked(one: HeldSpan, area: str, label: str, ground: Ground, *, equipment: UUID) -> str:
    """A link over what is held, with all that is said of it for those who point at it, and its label."""
    said, href = escape(ground.say(one)), ground.link(equipment, one)
    mine = " mine" if one.holder.mine else ""
    current = ' aria-current="true"' if href == ground.opened else ""
    return (
        f'<a class="held" href="{href}" aria-label="{said}"{current}><title>{said}</title>'
        f'<path class="hit{mine}" d="{area}"/>{label}</a>'
    )
