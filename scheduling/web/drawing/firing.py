"""A firing's curve with degrees on both sides, the reader's on the left, and the studio's clock below."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from scheduling.engine.clock import floor_minutes, local
from scheduling.selectors.firings import FiringPage
from scheduling.selectors.given_logs import LaidLog, Point
from scheduling.web.drawing.axes import degrees
from scheduling.web.drawing.curve import fills, in_turn, line
from scheduling.web.drawing.frame import Frame, Scale, bands, path, tag, text
from scheduling.web.drawing.marks import heat
from scheduling.web.recorded import Mark
from scheduling.wording import dated as said_as

WIDTH, HEIGHT, PAD = 860.0, 330.0, 64.0
SIDE, FOOT = 62.0, 48.0
TOPS_C = (600.0, 900.0, 1250.0)
HEIGHTS = dict.fromkeys(TOPS_C, (HEIGHT, PAD))
FLAG, ROW = 17.0, 19.0  # so wide is a flag, and so far below it the next one that would touch it
NEAR_X, NEAR_Y = 13.0, 16.0  # letters nearer than that would touch


def draw(page: FiringPage, *, unit: str, marks: Sequence[Mark] = (), log: LaidLog | None = None) -> str:
    """The whole of a firing: staffed hours behind, phases under the curve, its moments above it.

    `marks` is what was recorded, `log` what a logger wrote of it.
    """
    frame = Frame(span=_span(page, log), width=WIDTH)
    scale = Scale(top_c=_top_c(page, log), height=HEIGHT, pad=PAD)
    pieces = in_turn([page.phases])
    body = (
        f'<rect class="night" width="{WIDTH:.0f}" height="{HEIGHT:.0f}"/>'
        + path(bands(frame, page.staffed, 0, HEIGHT), "staffed")
        + fills([(phase, phase.span) for phase in page.phases], frame, scale)
        + degrees(scale, WIDTH, unit)
        + _clock(frame, page.firing.equipment.studio.zone)
        + path(_through(page.asked, frame, scale), "asked")
        + path(line(pieces, None, frame, scale), "curve", stroke=heat(scale.top_c))
        + ("" if log is None else _log(log, frame, scale))
        + _broken(page, frame)
        + _moments(page, frame)
        + _now(page, frame)
        + _marks(marks, frame, scale)
    )
    box = f"{-SIDE:.0f} 0 {WIDTH + 2 * SIDE:.0f} {HEIGHT + FOOT:.0f}"
    name = _("Temperature of %(equipment)s over the firing; the phases stand in the table below") % {
        "equipment": page.firing.equipment
    }
    return tag("svg", body, cls="plot", viewBox=box, role="img", aria_label=name)


def _span(page: FiringPage, log: LaidLog | None) -> tuple[int, int]:
    """The firing, and as much of a log as lies before and after it."""
    start, end = page.span or (0, 1)
    if log is None:
        return start, end
    most = end - start
    return max(start - most, min(start, log.span[0])), min(end + most, max(end, log.span[1]))


def _top_c(page: FiringPage, log: LaidLog | None) -> float:
    computed = [c for phase in page.phases for c in (phase.from_c, phase.to_c) if c is not None]
    logged = [] if log is None else [c for _, c in log.readings]
    hottest = max([*computed, *logged], default=0.0)
    return next((top_c for top_c in TOPS_C if hottest <= top_c), TOPS_C[-1])


def _through(points: Iterable[Point], frame: Frame, scale: Scale) -> str:
    """Straight lines through points; what lies outside the frame is left out."""
    start, end = frame.span
    shown = [f"{frame.x(at):.1f} {scale.y(c):.1f}" for at, c in points if start <= at <= end]
    return "M" + "L".join(shown) if len(shown) > 1 else ""


def _log(log: LaidLog, frame: Frame, scale: Scale) -> str:
    """The log, with a margin that sets it off from the curve; the fit dotted over it."""
    read = _through(log.readings, frame, scale)
    fits = "".join(_through(points, frame, scale) for points in log.fitted)
    return path(read, "log-margin") + path(read, "log-line") + path(fits, "fit-line")


def _clock(frame: Frame, zone: ZoneInfo) -> str:
    """Hours of the studio's clock along the foot, and the day where one begins."""
    start, end = frame.span
    step = next(s for s in (60, 120, 180, 240, 360, 720, 1440) if (end - start) / s <= 12 or s == 1440)
    marks = [m for m in range(start - start % 60 + 60, end, 60) if (local(m, zone).hour * 60) % step == 0]
    ticks = "".join(f"M{frame.x(m):.1f} {HEIGHT:.0f}v6" for m in marks)
    times = "".join(
        text(frame.x(m), HEIGHT + 20, f"{local(m, zone):%H:%M}", cls="axis-label", text_anchor="middle")
        for m in marks
    )
    return path(ticks, "midnight") + times + _day_names(frame, zone)


def _day_names(frame: Frame, zone: ZoneInfo) -> str:
    start, end = frame.span
    midnights = [m for m in range(start - start % 60, end, 60) if m > start and local(m, zone).hour == 0]
    lines = "".join(f"M{frame.x(m):.1f} 0v{HEIGHT:.0f}" for m in midnights)
    places = [0.0, *(frame.x(m) + 2 for m in midnights if frame.x(m) > 90)]
    days = [start, *(m for m in midnights if frame.x(m) > 90)]
    names = "".join(
        text(min(x, WIDTH - 40), HEIGHT + 40, said_as(local(m, zone), "D j M"), cls="day-label")
        for x, m in zip(places, days, strict=True)
    )
    return path(lines, "midnight") + names


def _moments(page: FiringPage, frame: Frame) -> str:
    """The moments that people wait for, as numbered flags; the page says them in words."""
    places = [frame.x(floor_minutes(at)) for _, at in page.moments]
    return "".join(
        path(f"M{x:.1f} {y:.0f}V{HEIGHT:.0f}", "moment")
        + tag("circle", cx=x, cy=y, r=8.0, cls="flag")
        + text(x, y + 4, str(number), cls="flag-label", text_anchor="middle")
        for number, (x, y) in enumerate(zip(places, _rows(places), strict=True), start=1)
    )


def _rows(places: Iterable[float]) -> list[float]:
    """How high each flag stands: those that would touch stand below one another."""
    heights: list[float] = []
    ends: list[float] = []  # where the last flag of each row ends
    for x in places:
        row = next((row for row, end in enumerate(ends) if x >= end), len(ends))
        ends[row : row + 1] = [x + FLAG]
        heights.append(11.0 + row * ROW)
    return heights


def _now(page: FiringPage, frame: Frame) -> str:
    if not frame.shows((page.now, page.now + 1)):
        return ""
    return path(f"M{frame.x(page.now):.1f} 0v{HEIGHT:.0f}", "now")


def _broken(page: FiringPage, frame: Frame) -> str:
    """Where it broke off, said in words beside the line."""
    if page.firing.broken_at is None:
        return ""
    x = frame.x(floor_minutes(page.firing.broken_at))
    left = x > WIDTH / 2
    words = text(
        x - 6 if left else x + 6,
        HEIGHT - 10,
        _("broke off"),
        cls="broke-label",
        text_anchor="end" if left else None,
    )
    return path(f"M{x:.1f} 0v{HEIGHT:.0f}", "broke") + words


def _marks(marks: Iterable[Mark], frame: Frame, scale: Scale) -> str:
    """What was recorded, as lettered diamonds on the curve; the page says it in words."""
    shown, parts = list[tuple[float, float]](), []
    for mark in marks:
        x, y = frame.x(mark.minute), HEIGHT if mark.at_c is None else scale.y(mark.at_c)
        label = (x, y - 11)
        while any(abs(label[0] - at) < NEAR_X and abs(label[1] - up) < NEAR_Y for at, up in shown):
            label = (label[0], label[1] - NEAR_Y)
        shown.append(label)
        parts.append(path(f"M{x:.1f} {y - 6:.1f}l6 6l-6 6l-6 -6z", "recorded-mark"))
        parts.append(text(*label, mark.letter, cls="recorded-letter", text_anchor="middle"))
    return "".join(parts)
