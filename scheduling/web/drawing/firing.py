"""A firing's curve with degrees on both sides and the studio's clock below."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from scheduling.engine.clock import floor_minutes, local
from scheduling.selectors.firings import FiringPage
from scheduling.web.drawing.curve import fills, in_turn, line
from scheduling.web.drawing.frame import Frame, Scale, bands, path, tag, text
from scheduling.web.drawing.marks import heat
from studios.thermal.units import c_from_f

WIDTH, HEIGHT, PAD = 860.0, 300.0, 30.0
SIDE, FOOT = 62.0, 48.0
TOPS_C = (600.0, 900.0, 1250.0)
HEIGHTS = dict.fromkeys(TOPS_C, (HEIGHT, PAD))


def draw(page: FiringPage, *, now: int) -> str:
    """The whole of a firing: staffed hours behind, phases under the curve, its four moments above it."""
    frame = Frame(span=page.span or (0, 1), width=WIDTH)
    scale = Scale(top_c=_top_c(page), height=HEIGHT, pad=PAD)
    zone = page.firing.equipment.studio.zone
    pieces = in_turn([page.phases])
    body = (
        f'<rect class="night" width="{WIDTH:.0f}" height="{HEIGHT:.0f}"/>'
        + path(bands(frame, page.staffed, 0, HEIGHT), "staffed")
        + fills([(phase, phase.span) for phase in page.phases], frame, scale)
        + _degrees(scale)
        + _clock(frame, zone)
        + path(_asked(page, frame, scale), "asked")
        + path(line(pieces, None, frame, scale), "curve", stroke=heat(scale.top_c))
        + _moments(page, frame)
        + (path(f"M{frame.x(now):.1f} 0v{HEIGHT:.0f}", "now") if frame.shows((now, now + 1)) else "")
    )
    box = f"{-SIDE:.0f} 0 {WIDTH + 2 * SIDE:.0f} {HEIGHT + FOOT:.0f}"
    name = f"Temperature of {page.firing.equipment} over the firing; the phases stand in the table below"
    return tag("svg", body, cls="plot", viewBox=box, role="img", aria_label=name)


def _asked(page: FiringPage, frame: Frame, scale: Scale) -> str:
    """The program as it was asked, where the equipment cannot follow it."""
    shown = [f"{frame.x(minute):.1f} {scale.y(at_c):.1f}" for minute, at_c in page.asked]
    return "M" + "L".join(shown) if shown else ""


def _top_c(page: FiringPage) -> float:
    hottest = max((c for p in page.phases for c in (p.from_c, p.to_c) if c is not None), default=0.0)
    return next((top_c for top_c in TOPS_C if hottest <= top_c), TOPS_C[-1])


def _degrees(scale: Scale) -> str:
    """°C on the left with level lines, °F on the right."""
    celsius = range(0, int(scale.top_c) + 1, 100 if scale.top_c < 1000 else 250)
    fahrenheit = range(100, int(scale.top_c * 1.8) + 32, 200 if scale.top_c < 1000 else 500)
    lines = "".join(f"M0 {scale.y(c):.1f}H{WIDTH:.0f}" for c in celsius)
    left = "".join(text(-6, scale.y(c) + 4, f"{c} °C", cls="axis-label", text_anchor="end") for c in celsius)
    right = "".join(
        text(WIDTH + 6, scale.y(c_from_f(f)) + 4, f"{f} °F", cls="axis-label") for f in fahrenheit
    )
    return path(lines, "level") + left + right


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
    names = "".join(
        text(
            frame.x(m) + 2,
            HEIGHT + 40,
            f"{local(m, zone):%a} {local(m, zone).day} {local(m, zone):%b}",
            cls="day-label",
        )
        for m in [start, *[m for m in midnights if frame.x(m) > 90]]
    )
    return path(lines, "midnight") + names


def _moments(page: FiringPage, frame: Frame) -> str:
    """The moments that people wait for, as numbered flags; the page says them in words."""
    return "".join(
        path(f"M{frame.x(floor_minutes(at)):.1f} 12V{HEIGHT:.0f}", "moment")
        + tag("circle", cx=frame.x(floor_minutes(at)), cy=12.0, r=8.0, cls="flag")
        + text(frame.x(floor_minutes(at)), 16.0, str(number), cls="flag-label", text_anchor="middle")
        for number, (_, at) in enumerate(page.moments, start=1)
    )
