"""What could be booked: options with all they hold, and refusals with reasons and the nearest start."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from scheduling.engine.clock import floor_minutes, moment, wall_minutes
from scheduling.engine.records import Ask, Held, PhaseSpan, Placement, Refusal, World
from scheduling.engine.search import earliest, place
from scheduling.errors import NoSuchWallTime, SchedulingError
from scheduling.models import Course, Firing
from scheduling.selectors.teaching import require_teachable
from scheduling.snapshot import DAY, ask_of, horizon_around, load_world
from studios.models import Equipment, Person, Studio

NEAREST_WITHIN_MIN = 21 * DAY


@dataclass(frozen=True, kw_only=True)
class PhaseLine:
    """A phase of what would be held."""

    kind: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    from_c: float | None
    to_c: float | None


@dataclass(frozen=True, kw_only=True)
class HeldLine:
    """One piece of equipment that would be held, and the firing it would join, if any."""

    equipment: Equipment
    place: int
    starts_at: dt.datetime
    ends_at: dt.datetime
    phases: tuple[PhaseLine, ...]
    joins: Firing | None


@dataclass(frozen=True, kw_only=True)
class Option:
    """A start that works, with everything it holds."""

    studio: Studio
    starts_at: dt.datetime
    ends_at: dt.datetime
    held: tuple[HeldLine, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ReasonLine:
    """One cause that is in the way, and until when."""

    code: str
    sentence: str
    until: dt.datetime | None


@dataclass(frozen=True, kw_only=True)
class Refused:
    """A start that does not work, why, and the first one after it that does."""

    studio: Studio
    starts_at: dt.datetime | None
    reasons: tuple[ReasonLine, ...]
    nearest: Option | None


@dataclass(frozen=True, kw_only=True)
class _Asked:
    """One course at one studio, with the world it is asked of and the rows behind its records."""

    world: World
    ask: Ask
    studio: Studio
    equipment: dict[int, Equipment]
    hindrance: SchedulingError | None


def examine(
    *, course: Course, studio: Studio, instructor: Person, starts_at: dt.datetime
) -> Option | Refused:
    """What one start would hold, or why it cannot be had."""
    last = starts_at + dt.timedelta(minutes=NEAREST_WITHIN_MIN)
    asked = _asked(course, studio, instructor, starts_at, last)
    return _answer(asked, floor_minutes(starts_at))


def wishes(
    *,
    course: Course,
    studios: Iterable[Studio],
    instructor: Person,
    first_day: dt.date,
    last_day: dt.date,
    time: dt.time,
) -> list[Option | Refused]:
    """One answer for each day and studio at a wished wall time, in the order of the days."""
    answers: list[tuple[dt.date, str, Option | Refused]] = []
    for studio in studios:
        begin, end = _noon(first_day, studio), _noon(last_day, studio)
        asked = _asked(course, studio, instructor, begin, end + dt.timedelta(minutes=NEAREST_WITHIN_MIN))
        answers.extend((day, studio.name, _on(asked, day, time)) for day in _days(first_day, last_day))
    return [answer for _, _, answer in sorted(answers, key=lambda found: found[:2])]


def _noon(day: dt.date, studio: Studio) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(12), studio.zone)


def _days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    for offset in range((last - first).days + 1):
        yield first + dt.timedelta(days=offset)


def _asked(
    course: Course, studio: Studio, instructor: Person, first: dt.datetime, last: dt.datetime
) -> _Asked:
    world = load_world([studio], horizon_around(first, last), [instructor])
    rows = Equipment.objects.filter(pk__in=world.apparatus).select_related("studio").in_bulk()
    return _Asked(
        world=world,
        ask=ask_of(course, studio, instructor),
        studio=studio,
        equipment=rows,
        hindrance=_hindrance(course, studio, instructor),
    )


def _hindrance(course: Course, studio: Studio, instructor: Person) -> SchedulingError | None:
    try:
        require_teachable(course, studio, instructor)
    except SchedulingError as error:
        return error
    return None


def _on(asked: _Asked, day: dt.date, time: dt.time) -> Option | Refused:
    try:
        start = wall_minutes(day, time, asked.studio.zone)
    except NoSuchWallTime as error:
        return _never(asked, None, error)
    return _answer(asked, start)


def _never(asked: _Asked, start: int | None, error: SchedulingError) -> Refused:
    """A refusal that no other time would change."""
    reason = ReasonLine(code=error.code, sentence=str(error), until=None)
    at = moment(start) if start is not None else None
    return Refused(studio=asked.studio, starts_at=at, reasons=(reason,), nearest=None)


def _answer(asked: _Asked, start: int) -> Option | Refused:
    if asked.hindrance is not None:
        return _never(asked, start, asked.hindrance)
    answer = place(asked.world, asked.ask, start)
    if isinstance(answer, Placement):
        return _option(asked, answer)
    nearest = earliest(asked.world, asked.ask, start + 1, start + NEAREST_WITHIN_MIN)
    return _refused(asked, answer, _option(asked, nearest) if nearest else None)


def _option(asked: _Asked, placement: Placement) -> Option:
    firings = Firing.objects.in_bulk([f.joins for f in placement.firings if f.joins is not None])
    lines = [_line(asked, held, None) for held in placement.held]
    lines += [_line(asked, f.held, firings.get(f.joins or 0)) for f in placement.firings]
    return Option(
        studio=asked.studio,
        starts_at=moment(placement.start),
        ends_at=moment(placement.end),
        held=tuple(lines),
        notes=placement.notes,
    )


def _line(asked: _Asked, held: Held, joins: Firing | None) -> HeldLine:
    return HeldLine(
        equipment=asked.equipment[held.apparatus_id],
        place=held.place,
        starts_at=moment(held.span[0]),
        ends_at=moment(held.span[1]),
        phases=tuple(_phase(phase) for phase in held.phases),
        joins=joins,
    )


def _phase(phase: PhaseSpan) -> PhaseLine:
    return PhaseLine(
        kind=phase.kind.value,
        starts_at=moment(phase.span[0]),
        ends_at=moment(phase.span[1]),
        from_c=phase.from_c,
        to_c=phase.to_c,
    )


def _refused(asked: _Asked, refusal: Refusal, nearest: Option | None) -> Refused:
    return Refused(
        studio=asked.studio,
        starts_at=moment(refusal.start),
        reasons=tuple(
            ReasonLine(
                code=reason.code,
                sentence=reason.sentence,
                until=moment(reason.until) if reason.until is not None else None,
            )
            for reason in refusal.reasons
        ),
        nearest=nearest,
    )
