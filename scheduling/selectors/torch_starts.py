"""What the engine says of a torch bench: why a free torch cannot be had, and when else one can."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, local, moment, wall_minutes
from scheduling.engine.records import EVER, Ask, Kind, Reason, Refusal, Store
from scheduling.engine.search import place
from scheduling.engine.spans import Span, covers, intersect, subtract
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from scheduling.errors import NoSuchWallTime
from scheduling.kept import known
from scheduling.models import PersonSpan
from scheduling.selectors.torch_supplies import Left
from scheduling.snapshot import DAY, bench_spans, horizon_around
from scheduling.wording import now_said
from studios.models import Equipment, Person, Studio
from studios.said import said

DAYS_AHEAD = 7
# Said of the whole bench, and of every torch alike, where the hours are over.
SAID_ELSEWHERE = {"too-soon"}
# What a torch that is kept for the same person gives back when they take another one instead.
GIVEN_BACK = {"supply-short", "room-full"}


@dataclass(frozen=True, kw_only=True)
class Answers:
    """For each torch why it cannot be had, in sentences; what is left in cylinders; the starts that work."""

    why: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    left: Mapping[int, Left] = field(default_factory=dict)
    starts: tuple[Span, ...] = ()


def bench_answers(
    *, person: Person, studio: Studio, torches: Sequence[Equipment], span: Span, keeps_one: bool
) -> Answers:
    """What the engine says of these minutes, and of as many on the days around them.

    `keeps_one`: a torch is kept for the person in these hours, and would be free again.
    """
    if span[0] < ceil_minutes(timezone.now()):
        return Answers()
    within = span[0] - DAY, span[0] + (DAYS_AHEAD + 1) * DAY
    with known([studio], horizon_around(moment(within[0]), moment(within[1]))) as found:
        return Answers(
            why={
                torch.pk: _why_not(found.world, _ask(studio, span, torch), span, keeps_one=keeps_one)
                for torch in torches
            },
            left={key: left for key, store in found.world.stores.items() if (left := _left(store, span))},
            starts=_starts(found.world, person, studio, span, within),
        )


def _ask(studio: Studio, span: Span, torch: Equipment | None = None) -> Ask:
    return Ask(
        title=said("open bench time"),
        studio_id=studio.pk,
        teach_min=span[1] - span[0],
        stations=((Kind.TORCH, 1),),
        only=frozenset({torch.pk}) if torch else None,
        notice=False,
        people=1,
    )


def _why_not(world: World, ask: Ask, span: Span, *, keeps_one: bool) -> tuple[str, ...]:
    answer = place(world, ask, span[0])
    reasons: tuple[Reason, ...] = answer.reasons if isinstance(answer, Refusal) else ()
    left_out = SAID_ELSEWHERE | (GIVEN_BACK if keeps_one else set())
    return tuple(now_said(reason.sentence) for reason in reasons if reason.code not in left_out)


def _left(store: Store, span: Span) -> Left | None:
    """Nothing is known of a content before it was refilled once."""
    period = next((one for one in store.periods if one.span[0] <= span[0] < one.span[1]), None)
    if period is None:
        return None
    until = period.span[1] if period.span[1] < EVER else None
    return Left(amount=max(0.0, period.room), unit=store.unit, until=until)


def _starts(world: World, person: Person, studio: Studio, span: Span, within: Span) -> tuple[Span, ...]:
    """Every start in open bench time, as long, at which some torch can be had and the person is free."""
    length = span[1] - span[0]
    hours = bench_spans(studio, (within[0] - DAY, within[1] + DAY))
    fit = [(begin, end - length + 1) for begin, end in hours if end - begin >= length]
    engaged = PersonSpan.objects.filter(
        person=person, starts_at__lt=moment(within[1] + length), ends_at__gt=moment(within[0])
    )
    busy = [
        (floor_minutes(one.starts_at) - length + 1, ceil_minutes(one.ends_at))
        for one in engaged.order_by("starts_at")
    ]
    return subtract(intersect(start_space(world, _ask(studio, span), *within), fit), busy)


@dataclass(frozen=True, kw_only=True)
class OtherHours:
    """As long at another time: the nearest on either side of what was asked; the same time on other days."""

    nearest: tuple[Span, ...]
    same_time: tuple[Span, ...]


def other_hours(studio: Studio, span: Span, starts: Sequence[Span]) -> OtherHours:
    """The nearest where the hours themselves cannot be had; the same time of day in the week that follows."""
    length = span[1] - span[0]
    had = covers(starts, span[0], span[0] + 1)
    before = [end - 1 for begin, end in starts if end <= span[0]][-1:]
    after = [begin for begin, _ in starts if begin > span[0]][:1]
    return OtherHours(
        nearest=() if had else tuple((start, start + length) for start in (*before, *after)),
        same_time=tuple(
            (start, start + length)
            for start in _same_time(studio, span[0])
            if covers(starts, start, start + 1)
        ),
    )


def _same_time(studio: Studio, start: int) -> list[int]:
    """A time of day on the days that follow, by the studio's clock; a day without that time is left out."""
    asked, found = local(start, studio.zone), []
    for days in range(1, DAYS_AHEAD + 1):
        try:
            found.append(wall_minutes(asked.date() + dt.timedelta(days=days), asked.time(), studio.zone))
        except NoSuchWallTime:
            continue
    return found
