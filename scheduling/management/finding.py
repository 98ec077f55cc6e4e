"""How the terminal says what starts were found, why others cannot be had, and what would open them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence

from scheduling.engine.clock import floor_minutes, local
from scheduling.management.holdings import would_be_held
from scheduling.management.wording import day_time
from scheduling.selectors.offers import OfferLine, SeriesFound, TimesLine
from scheduling.selectors.options import Option, Refused
from scheduling.selectors.skips import Skip
from studios.models import Studio

INDENT = "   "


def day(date: dt.date) -> str:
    """A day: Tue 4 Mar 2031."""
    return f"{date:%a} {date.day} {date:%b %Y}"


def ranked(offers: Sequence[OfferLine], order: str) -> Iterator[str]:
    """The best starts, the best first, each with everything it holds."""
    if not offers:
        yield "No start works on these days; --at says why one does not."
        return
    yield f"{len(offers)} start{'s' * (len(offers) != 1)}, by what counts: {order}."
    for place, offer in enumerate(offers, 1):
        words = f" ({offer.words})" if offer.words else ""
        yield f"{place}. {_span(offer.option)} at {offer.option.studio}{words}"
        yield from _whole(offer.option)


def one_start(asked: dt.datetime, studio: Studio, found: Option | Refused) -> Iterator[str]:
    """One start: what it holds, or every reason in a sentence and what would open it."""
    when = f"{day_time(asked, studio.zone)} at {studio}"
    if isinstance(found, Option):
        yield f"{when} works, and would hold:"
        yield from _whole(found)
        return
    yield f"{when} does not work:"
    yield from (f"{INDENT}{reason.sentence}" for reason in found.reasons)
    if found.openings:
        yield "What would open it:"
        yield from (f"{INDENT}{opening.sentence}" for opening in found.openings)


def weekly(found: SeriesFound, skips: Sequence[Skip]) -> Iterator[str]:
    """The times of a weekly class, and its meetings where a time was asked."""
    days = found.days
    yield f"{len(days)} meetings at {found.studio}: {day(days[0])} to {day(days[-1])}"
    yield from _proposed(skips, days)
    yield from _times("Times that work every week:", found.times)
    yield from _times("Times that would work but for these weeks:", found.spoilt)
    for meeting in found.meetings:
        yield _span(meeting)
        yield from _whole(meeting)
    for refused in found.refused:
        yield from _spoilt_week(refused)


def _proposed(skips: Iterable[Skip], days: Sequence[dt.date]) -> Iterator[str]:
    for skip in skips:
        kept = "meets on" if skip.day in days else "left out"
        hint = f"; --skip {skip.day} leaves it out" if skip.day in days else ""
        yield f"{kept} {day(skip.day)} ({skip.reason}{hint})"


def _times(heading: str, lines: Sequence[TimesLine]) -> Iterator[str]:
    if not lines:
        return
    yield heading
    for line in lines:
        span = f"{line.first:%H:%M}" + (f" to {line.last:%H:%M}" if line.last != line.first else "")
        weeks = ", ".join(day(week) for week in line.spoilt_by)
        yield f"{INDENT}{span}" + (f", but for {weeks}" if weeks else "")


def _spoilt_week(refused: Refused) -> Iterator[str]:
    reasons = " ".join(reason.sentence for reason in refused.reasons)
    when = f"{day_time(refused.starts_at, refused.studio.zone)}: " if refused.starts_at else ""
    yield f"{when}{reasons}"


def _span(option: Option) -> str:
    zone = option.studio.zone
    ends = local(floor_minutes(option.ends_at), zone)
    return f"{day_time(option.starts_at, zone)} to {ends:%H:%M}"


def _whole(option: Option) -> Iterator[str]:
    yield from (f"{INDENT}{line}" for line in (*option.notes, *would_be_held(option)))
