"""A class is over by a time of day: for the neighbours, for the lease, or because whoever asks wishes it.

From its start to its end it lies between a midnight and the latest end of that day; set-up and clean-up do
not count. So no class with a latest end goes on past midnight.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from scheduling.engine.clock import MIDNIGHT, day_span, days
from scheduling.engine.records import Ask, Reason, StudioRecord
from scheduling.engine.spans import Span, covers, first_fit
from scheduling.engine.wording import at, clock_time
from studios.said import said


def over_by(latest: dt.time | None, zone: ZoneInfo, within: Span) -> tuple[Span, ...]:
    """Each day from midnight to the latest end by the wall clock; empty where there is no latest end.

    A latest end of 00:00 is the midnight after the day.
    """
    if latest is None:
        return ()
    return tuple(day_span(day, MIDNIGHT, latest, zone) for day in days(*within, zone))


def too_late(studio: StudioRecord, ask: Ask, start: int) -> list[Reason]:
    """Why a class cannot begin at a minute: the latest end of the studio, or the one that was asked for."""
    at_studio = said("At {studio} classes are", studio=studio.name)
    limits = ((studio.over_by, at_studio), (ask.over_by, said("It was asked to be")))
    return [
        _reason(studio, ask, start, spans, whose)
        for spans, whose in limits
        if spans and not covers(spans, start, start + ask.teach_min)
    ]


def _reason(studio: StudioRecord, ask: Ask, start: int, spans: tuple[Span, ...], whose: str) -> Reason:
    fit = first_fit(spans, start, ask.teach_min)
    end = next((end for begin, end in reversed(spans) if begin <= start), spans[0][1])
    return Reason(
        code="too-late",
        sentence=said(
            "{whose} over by {end}; {course} would go on until {until}.",
            whose=whose,
            end=clock_time(end, studio),
            course=ask.title,
            until=at(start + ask.teach_min, studio),
        ),
        until=fit,
        not_before=fit,
    )
