"""What stands beside a strip: until when what is held, and what else its teacher has that day."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

from scheduling.engine.clock import floor_minutes, moment
from scheduling.selectors.options import HeldLine, JourneyLine
from scheduling.templatetags.lehrbook import clock, when
from scheduling.wording import long
from studios.thermal import Phase


def until(line: HeldLine, starts_at: dt.datetime, zone: ZoneInfo) -> str:
    """From when it is held and until when; what is fired, until its door opens."""
    spans = {phase.kind: phase.span for phase in line.curve}
    start, end = floor_minutes(line.starts_at), floor_minutes(line.ends_at)
    words = {"start": _at(start, starts_at, zone), "end": _at(end, starts_at, zone)}
    if Phase.ANNEALING in spans:
        return _fired(line, words, starts_at, zone)
    if Phase.WORKING in spans and spans[Phase.WORKING][1] < end and line.curve[0].from_c is not None:
        words["used"] = _at(spans[Phase.WORKING][1], starts_at, zone)
        return _("from %(start)s, in use until %(used)s, cold at %(end)s") % words
    return _("from %(start)s until %(end)s") % words


def _fired(line: HeldLine, words: dict[str, str], starts_at: dt.datetime, zone: ZoneInfo) -> str:
    *before, last = line.curve
    opens = last.span[0] if last.kind is Phase.UNLOADING else last.span[1]
    words["opens"] = _at(opens, starts_at, zone)
    if before and before[-1].kind is Phase.WAITING:
        words["cool"] = _at(before[-1].span[0], starts_at, zone)
        return _("from %(start)s; cool %(cool)s, the door opens %(opens)s") % words
    return _("from %(start)s; the door opens %(opens)s") % words


def _at(minute: int, starts_at: dt.datetime, zone: ZoneInfo) -> str:
    """A time of day; with its day where that is not the day of the class."""
    same_day = moment(minute).astimezone(zone).date() == starts_at.astimezone(zone).date()
    return clock(minute, zone) if same_day else when(minute, zone)


def way(journey: JourneyLine, zone: ZoneInfo) -> str:
    """What is before the class or after it that day, where, and how much the way leaves."""
    words = {
        "what": journey.what,
        "studio": journey.studio,
        "until": clock(journey.ends_at, zone),
        "since": clock(journey.starts_at, zone),
        "way": long(journey.travel_min),
        "spare": long(journey.spare_min),
    }
    if journey.before and journey.here:
        return _("Before it %(what)s, here until %(until)s: %(spare)s between.") % words
    if journey.before:
        return (
            _("Before it %(what)s at %(studio)s until %(until)s: %(way)s on the way leave %(spare)s.") % words
        )
    if journey.here:
        return _("After it %(what)s, here from %(since)s: %(spare)s between.") % words
    return _("After it %(what)s at %(studio)s from %(since)s: %(way)s on the way leave %(spare)s.") % words
