"""A log of a firing laid over what was asked and what was worked out: where it differs most, how it ended."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from scheduling.engine.clock import edge_minutes, floor_minutes, local
from scheduling.engine.curves import temperature
from scheduling.engine.records import PhaseSpan
from scheduling.engine.spans import Span
from scheduling.errors import InvalidInput
from scheduling.selectors.firings import FiringPage
from studios.calibration import Fit, FitError, Log, Written, calibrate
from studios.thermal import Body, Recipe

MOST_DRAWN, MOST_COMPARED = 600, 6000
LEAST_WITHIN = 2
FOLLOWS_K = 5.0
DAY_ONE = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)

Point = tuple[float, float]  # minute of the epoch, °C


class Placed(StrEnum):
    """How it is known when the first reading was taken."""

    SAID = "said"
    WRITTEN = "written"
    CLOCK = "clock"
    BEGINNING = "beginning"


@dataclass(frozen=True, kw_only=True)
class Apart:
    """Where a log is farthest from a curve."""

    minute: int
    logged_c: float
    curve_c: float

    @property
    def kelvin(self) -> float:
        """By how much the log is hotter; negative: colder."""
        return self.logged_c - self.curve_c


@dataclass(frozen=True, kw_only=True)
class LaidLog:
    """A log on the clock of its firing.

    `door_c` is the temperature for opening, `opened_min` when the log came down to it, none where it did not;
    `late_min` is by how much that is later than worked out. `fit` is none where nothing of the log can be
    fitted, and `no_fit` says why.
    """

    readings: tuple[Point, ...]
    count: int
    span: Span
    placed: Placed
    from_computed: Apart | None
    from_asked: Apart | None
    door_c: float | None
    opened_min: int | None
    late_min: int | None
    fit: Fit | None
    fitted: tuple[tuple[Point, ...], ...]
    no_fit: str
    notices: tuple[str, ...]

    @property
    def early_min(self) -> int | None:
        """By how much it was cool enough before it was worked out to be."""
        return None if self.late_min is None else -self.late_min


def laid_over(page: FiringPage, log: Log, body: Body | None, *, begins: int | None = None) -> LaidLog:
    """A log over its firing; `begins` is when its first reading was taken, where the log does not say.

    Nothing is stored. Raises InvalidInput where none of it is of this firing.
    """
    first, placed = _first_minute(page, log, begins)
    points = tuple((first + minute, temp_c) for minute, temp_c in zip(log.minutes, log.temps_c, strict=True))
    span = (int(first), int(points[-1][0]) + 1)
    _require_touching(page, points, span)
    opened = None if body is None else _down_to(points, body.opening_c)
    cool = floor_minutes(page.firing.cool_at)
    fit, no_fit = _fit(log, body)
    some = _thinned(points, MOST_COMPARED)
    return LaidLog(
        readings=_thinned(points, MOST_DRAWN),
        count=len(points),
        span=span,
        placed=placed,
        from_computed=_farthest((minute, c, _computed(page.phases, minute)) for minute, c in some),
        from_asked=_farthest((minute, c, _followed(page, minute)) for minute, c in some),
        door_c=None if body is None else body.opening_c,
        opened_min=opened,
        late_min=None if opened is None else opened - cool,
        fit=fit,
        fitted=() if fit is None else tuple(_fitted(fit, log, first)),
        no_fit=no_fit,
        notices=log.notices,
    )


def _first_minute(page: FiringPage, log: Log, begins: int | None) -> tuple[float, Placed]:
    zone = page.firing.equipment.studio.zone
    if begins is not None:
        return float(begins), Placed.SAID
    if log.written is Written.MOMENT:
        return log.first_min, Placed.WRITTEN
    if log.written is Written.WALL:
        return _by_the_wall(log.first_min, zone), Placed.WRITTEN
    if log.written is Written.CLOCK:
        return _on_which_day(page, log, zone), Placed.CLOCK
    return float(_beginning(page)), Placed.BEGINNING


def _by_the_wall(minutes: float, zone: ZoneInfo) -> float:
    at = DAY_ONE + dt.timedelta(minutes=minutes)
    return edge_minutes(at.date(), at.time(), zone) + at.second / 60


def _on_which_day(page: FiringPage, log: Log, zone: ZoneInfo) -> float:
    """A clock without a date: the day on which most of the log is of this firing."""
    start, end = page.span or (0, 0)
    day = local(start, zone).date()
    time = (DAY_ONE + dt.timedelta(minutes=log.first_min % (24 * 60))).time()
    firsts = [float(edge_minutes(day + dt.timedelta(days=n), time, zone)) for n in (-1, 0, 1, 2)]
    return max(firsts, key=lambda first: min(end, first + log.ends_min) - max(start, first))


def _beginning(page: FiringPage) -> int:
    """A kiln logs from the start of its program on, an annealer from when it is lit."""
    if page.firing.recipe == Recipe.ANNEAL and page.span is not None:
        return page.span[0]
    return floor_minutes(page.firing.last_in_at)


def _require_touching(page: FiringPage, points: Sequence[Point], span: Span) -> None:
    start, end = page.span or (0, 0)
    if sum(start <= minute <= end for minute, _ in points) >= LEAST_WITHIN:
        return
    zone = page.firing.equipment.studio.zone
    problem = _(
        "By its times this log was read from %(since)s to %(until)s, which is not during this firing. "
        "Say when its first reading was taken."
    ) % {"since": f"{local(span[0], zone):%Y-%m-%d %H:%M}", "until": f"{local(span[1], zone):%Y-%m-%d %H:%M}"}
    raise InvalidInput(field="day", problem=problem)


def _thinned(points: Sequence[Point], most: int) -> tuple[Point, ...]:
    """At most so many of them, evenly, the last among them."""
    step = -(-len(points) // most)
    return (*points[:-1:step], points[-1])


def _computed(phases: Iterable[PhaseSpan], minute: float) -> float | None:
    within = (phase for phase in phases if phase.span[0] <= minute <= phase.span[1])
    return next((found for phase in within if (found := temperature(phase, minute)) is not None), None)


def _joined(points: Sequence[Point], minute: float) -> float | None:
    """Along the straight lines between points; none before the first and after the last."""
    for (begin, from_c), (end, to_c) in pairwise(points):
        if begin <= minute <= end:
            return from_c if end == begin else from_c + (to_c - from_c) * (minute - begin) / (end - begin)
    return None


def _followed(page: FiringPage, minute: float) -> float | None:
    """What is asked, as long as the equipment can follow: where it cannot, nobody wonders at a difference."""
    asked, computed = _joined(page.asked, minute), _computed(page.phases, minute)
    if asked is None or computed is None or abs(asked - computed) > FOLLOWS_K:
        return None
    return asked


def _farthest(compared: Iterable[tuple[float, float, float | None]]) -> Apart | None:
    both = [
        Apart(minute=round(minute), logged_c=logged_c, curve_c=curve_c)
        for minute, logged_c, curve_c in compared
        if curve_c is not None
    ]
    return max(both, key=lambda apart: abs(apart.kelvin), default=None)


def _down_to(points: Sequence[Point], door_c: float) -> int | None:
    """When the log, past its hottest reading, has come down to a temperature."""
    hottest = max(range(len(points)), key=lambda place: points[place][1])
    return next((round(minute) for minute, temp_c in points[hottest:] if temp_c <= door_c), None)


def _fit(log: Log, body: Body | None) -> tuple[Fit | None, str]:
    if body is None:
        return None, _("It has no thermal record that a fit could be held against.")
    try:
        found = calibrate(log, ambient_c=body.ambient_c, door_c=body.opening_c, split_c=body.split_c)
    except FitError as error:
        return None, str(error)
    return found.offered, ""


def _fitted(fit: Fit, log: Log, first: float) -> Iterator[tuple[Point, ...]]:
    """The fitted curve, stretch by stretch."""
    for part in fit.residuals:
        begin = part.stretch.first
        yield _thinned(
            [
                (first + minute, log.temps_c[begin + place] - off_k)
                for place, (minute, off_k) in enumerate(zip(part.minutes, part.kelvin, strict=True))
            ],
            MOST_DRAWN,
        )
