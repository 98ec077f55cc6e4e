"""Where a repair fits: hours in which nothing is booked on a piece of equipment and somebody is there."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.spans import Span, subtract
from scheduling.models import Occupancy, Outage
from scheduling.snapshot import weekly_spans
from studios.models import Equipment

AHEAD = dt.timedelta(days=28)
MOST = 6


@dataclass(frozen=True, kw_only=True)
class RepairHours:
    """A stretch in which a repair breaks nothing; it could begin later in it, up to `latest_at`."""

    starts_at: dt.datetime
    ends_at: dt.datetime
    latest_at: dt.datetime


def repair_hours(equipment: Equipment, minutes: int) -> tuple[RepairHours, ...]:
    """The next stretches of so many minutes in which equipment is cold, free and somebody is at the studio.

    What is booked counts with its heat-up and its cooling, and with the wait for somebody to open it.
    """
    now = timezone.now()
    within = ceil_minutes(now), floor_minutes(now + AHEAD)
    studio = equipment.studio
    staffed = weekly_spans(studio, studio.staffed_hours.all(), within)
    clipped = [(max(begin, within[0]), end) for begin, end in staffed if end > within[0]]
    free = subtract(clipped, [*_held(equipment, within), *_out(equipment, within)])
    return tuple(_stretch(span, minutes) for span in free if span[1] - span[0] >= minutes)[:MOST]


def _stretch(span: Span, minutes: int) -> RepairHours:
    begin, end = span
    return RepairHours(
        starts_at=moment(begin), ends_at=moment(begin + minutes), latest_at=moment(end - minutes)
    )


def _held(equipment: Equipment, within: Span) -> list[Span]:
    """All of what holds it, and what is kept for somebody; a cancelled booking holds nothing."""
    rows = Occupancy.objects.filter(
        equipment=equipment, starts_at__lt=moment(within[1]), ends_at__gt=moment(within[0])
    )
    return [_span(row.starts_at, row.ends_at) for row in rows]


def _out(equipment: Equipment, within: Span) -> list[Span]:
    rows = Outage.objects.filter(
        equipment=equipment, starts_at__lt=moment(within[1]), ends_at__gt=moment(within[0])
    )
    return [_span(row.starts_at, row.ends_at) for row in rows]


def _span(starts_at: dt.datetime, ends_at: dt.datetime) -> Span:
    return floor_minutes(starts_at), ceil_minutes(ends_at)
