"""The day's round of a studio: what is hot and until when, what is to be done, and what of it is done.

A duty is done when somebody has ticked it, or when what was recorded says so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Prefetch, Q, QuerySet
from django.utils import timezone

from scheduling.engine.clock import DAY, floor_minutes, whole_day
from scheduling.engine.spans import Span
from scheduling.models import Actual, ActualKind, BookingStatus, Firing, Refill, Tick
from scheduling.selectors.duties import Does, Duty, all_duties, seen_by_staff
from scheduling.selectors.held import HeldSpan, promised_between
from scheduling.selectors.hot import Hot, hot_at
from studios.models import Person, Studio
from studios.selectors import studios_where
from studios.thermal import Recipe

# What is recorded in the same step as a duty of a firing is ticked.
RECORDED: Mapping[Does, ActualKind] = {
    Does.LIGHT: ActualKind.LIT,
    Does.SWITCH_ON: ActualKind.LIT,
    Does.LOAD: ActualKind.LAST_IN,
    Does.START_SOAK: ActualKind.SOAK_STARTED,
    Does.UNLOAD: ActualKind.OPENED,
}
_OUT = (ActualKind.OPENED, ActualKind.UNLOADED)
# What says that a duty is done: its own record, or one that can only follow it.
_SAYS_SO: Mapping[Does, frozenset[str]] = {
    Does.LIGHT: frozenset({ActualKind.LIT, ActualKind.SOAK_STARTED, *_OUT}),
    Does.SWITCH_ON: frozenset({ActualKind.LIT, ActualKind.SOAK_STARTED, *_OUT}),
    Does.LOAD: frozenset({ActualKind.LAST_IN, ActualKind.LIT, ActualKind.SOAK_STARTED, *_OUT}),
    Does.START_SOAK: frozenset({ActualKind.LAST_IN, ActualKind.SOAK_STARTED, *_OUT}),
    Does.UNLOAD: frozenset({ActualKind.UNLOADED}),
}


@dataclass(frozen=True, kw_only=True)
class Line:
    """A duty and what is known of it: the ticks of its parts, what was recorded, and what could be."""

    duty: Duty
    ticks: tuple[Tick, ...] = ()
    record: Actual | None = None
    opened: Actual | None = None
    firing: Firing | None = None
    refill: Refill | None = None

    @property
    def done(self) -> bool:
        return self.duty.done or self.record is not None or len(self.ticks) == len(self.duty.parts)

    @property
    def tick(self) -> Tick | None:
        """The last of its ticks, where all of it is ticked."""
        whole = len(self.ticks) == len(self.duty.parts)
        return max(self.ticks, key=lambda tick: tick.ticked_at) if whole else None

    @property
    def records(self) -> ActualKind | None:
        """What really happened, if it is done now; None: nothing is recorded of it, or it is already."""
        if self.firing is None or self.record is not None:
            return None
        kind = RECORDED.get(self.duty.does)
        return None if kind == ActualKind.OPENED and self.opened is not None else kind

    @property
    def key(self) -> str:
        """What the line is called among those of a page."""
        return self.duty.keys[0]


@dataclass(frozen=True, kw_only=True)
class DayRound:
    """One day of a studio by its clock, as whoever minds the equipment goes through it."""

    studio: Studio
    day: dt.date
    today: dt.date
    now: int
    left: tuple[Line, ...]
    lines: tuple[Line, ...]
    hot: tuple[Hot, ...]
    hot_at: int
    night: tuple[Hot, ...]
    never_unloaded: int
    to_anneal_again: tuple[Firing, ...]

    @property
    def is_today(self) -> bool:
        return self.day == self.today

    @property
    def to_come(self) -> bool:
        """Nothing of a day to come is ticked yet."""
        return self.day > self.today

    @property
    def open_count(self) -> int:
        return sum(not line.done for line in self.lines)


def day_round(studio: Studio, day: dt.date | None = None) -> DayRound:
    """The round of a day; today where none is named."""
    now = timezone.now()
    today = now.astimezone(studio.zone).date()
    day = day or today
    begin, end = whole_day(day, studio.zone)
    since = whole_day(day - DAY, studio.zone)[0]
    held = _held(studio, (since, end + 1))
    duties = all_duties(studio, held, (since, end))
    lines = _lines(studio, duties)
    minute = floor_minutes(now) if day == today else begin
    return DayRound(
        studio=studio,
        day=day,
        today=today,
        now=floor_minutes(now),
        left=tuple(line for line in lines if line.duty.span[0] < begin and not line.done),
        lines=tuple(line for line in lines if line.duty.span[0] >= begin),
        hot=hot_at(studio, held, minute),
        hot_at=minute,
        night=hot_at(studio, held, end),
        never_unloaded=_inside(studio)
        .filter(broken_at=None, unload_at__lt=_moment(studio, day - DAY))
        .count(),
        to_anneal_again=tuple(_inside(studio).filter(broken_at__isnull=False)),
    )


def lines_on(studio: Studio, day: dt.date) -> tuple[Line, ...]:
    """The duties of a day with what is known of them."""
    span = whole_day(day, studio.zone)
    return _lines(studio, all_duties(studio, _held(studio, span), span))


def ticks_seen_by(person: Person) -> QuerySet[Tick]:
    """The ticks at the studios whose round a person goes, by when the duty was due."""
    rows = Tick.objects.filter(studio__in=studios_where(person, "tick"))
    return rows.select_related("studio", "ticked_by", "taken_back_by", "actual").order_by("due_at", "pk")


def _held(studio: Studio, span: Span) -> list[HeldSpan]:
    return promised_between(equipment=Q(equipment__studio=studio), span=span, viewer=seen_by_staff(studio))


def _moment(studio: Studio, day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(), studio.zone)


def _inside(studio: Studio) -> QuerySet[Firing]:
    """Firings of which nobody has recorded that they are unloaded."""
    standing = Firing.objects.filter(equipment__studio=studio, status=BookingStatus.BOOKED)
    return standing.filter(unloaded_at=None).select_related("equipment").order_by("unload_at", "pk")


def _lines(studio: Studio, duties: Collection[Duty]) -> tuple[Line, ...]:
    ticks = _ticks(studio, duties)
    firings = _firings(duties)
    refills = _refills(duties)
    return tuple(
        _line(
            duty,
            tuple(ticks[key] for key in duty.keys if key in ticks),
            firings.get(duty.uid),
            refills.get(duty.uid),
        )
        for duty in duties
    )


def _line(duty: Duty, ticks: tuple[Tick, ...], firing: Firing | None, refill: Refill | None) -> Line:
    standing = list(firing.actuals.all()) if firing else []
    says_so = set(_SAYS_SO.get(duty.does, ()))
    # An annealer is lit before its pieces go in, a kiln after.
    if firing and firing.recipe == Recipe.ANNEAL and duty.does in {Does.LIGHT, Does.SWITCH_ON}:
        says_so.add(ActualKind.LAST_IN)
    return Line(
        duty=duty,
        ticks=ticks,
        record=next((actual for actual in standing if actual.kind in says_so), None),
        opened=next((actual for actual in standing if actual.kind == ActualKind.OPENED), None),
        firing=firing,
        refill=refill,
    )


def _ticks(studio: Studio, duties: Iterable[Duty]) -> dict[str, Tick]:
    keys = [key for duty in duties for key in duty.keys]
    rows = Tick.objects.filter(studio=studio, duty__in=keys, taken_back_at__isnull=True)
    return {row.duty: row for row in rows.select_related("ticked_by", "actual")}


def _firings(duties: Iterable[Duty]) -> dict[object, Firing]:
    uids = [duty.uid for duty in duties if duty.face == "firing"]
    standing = (
        Actual.objects.filter(struck_at__isnull=True).select_related("recorded_by").order_by("at", "pk")
    )
    rows = Firing.objects.filter(uid__in=uids).select_related("equipment__studio")
    return {row.uid: row for row in rows.prefetch_related(Prefetch("actuals", queryset=standing))}


def _refills(duties: Iterable[Duty]) -> dict[object, Refill]:
    uids = [duty.uid for duty in duties if duty.face == "refill"]
    return {
        row.uid: row for row in Refill.objects.filter(uid__in=uids).select_related("supply", "recorded_by")
    }
