"""What could be booked: options with all they hold, and refusals with reasons and what would open them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import chain
from types import MappingProxyType

from scheduling.engine.clock import floor_minutes, moment, wall_minutes
from scheduling.engine.journeys import Journey, journeys
from scheduling.engine.latest_end import over_by as latest_ends
from scheduling.engine.openings import Change, Opening, openings
from scheduling.engine.people import with_promises_kept
from scheduling.engine.records import Ask, Duty, Held, PhaseSpan, Placement, Refusal
from scheduling.engine.search import place
from scheduling.engine.spans import Span, overlapping
from scheduling.engine.startspace.space import start_space
from scheduling.engine.world import World
from scheduling.errors import NoSuchWallTime, SchedulingError
from scheduling.kept import known
from scheduling.models import Course, Firing
from scheduling.selectors.teaching import could_assist, require_teachable
from scheduling.snapshot import DAY, ask_of, horizon_around
from scheduling.wording import now_said
from studios.models import Equipment, Person, Studio

NEAREST_WITHIN_MIN = 21 * DAY
NOTHING_PROMISED: Mapping[int, Span] = MappingProxyType({})


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
    curve: tuple[PhaseSpan, ...] = ()


@dataclass(frozen=True, kw_only=True)
class JourneyLine:
    """What whoever teaches has before a class or after it, how far away, and how much the way leaves."""

    before: bool
    what: str
    studio: str
    here: bool
    starts_at: dt.datetime
    ends_at: dt.datetime
    travel_min: int
    spare_min: int


@dataclass(frozen=True, kw_only=True)
class Option:
    """A start that works, with everything it holds; who teaches it has these ways to it and from it.

    `staffed` are the hours, in minutes, in which somebody of the studio is there while anything is held.
    """

    studio: Studio
    starts_at: dt.datetime
    ends_at: dt.datetime
    held: tuple[HeldLine, ...]
    notes: tuple[str, ...]
    journeys: tuple[JourneyLine, ...] = ()
    staffed: tuple[Span, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ReasonLine:
    """One cause that is in the way, and until when."""

    code: str
    sentence: str
    until: dt.datetime | None


@dataclass(frozen=True, kw_only=True)
class OpeningLine:
    """One change that opens a refused start, in a sentence, and what that start would hold."""

    change: str
    sentence: str
    option: Option


@dataclass(frozen=True, kw_only=True)
class Refused:
    """A start that does not work, why, and what would open it, the smallest change first."""

    studio: Studio
    starts_at: dt.datetime | None
    reasons: tuple[ReasonLine, ...]
    openings: tuple[OpeningLine, ...] = ()

    @property
    def nearest(self) -> Option | None:
        """The first start after the one asked for that works."""
        later = (o.option for o in self.openings if o.change == Change.TIME)
        return next((o for o in later if self.starts_at is None or o.starts_at > self.starts_at), None)


@dataclass(frozen=True, kw_only=True)
class Question:
    """A course and whoever teaches it, at some studios: the world it is asked of, and the rows behind it."""

    world: World
    asks: dict[int, Ask]
    studios: dict[int, Studio]
    equipment: Mapping[int, Equipment]
    hindrances: dict[int, SchedulingError]
    within: Span
    spaces: dict[int, tuple[Span, ...]] = field(default_factory=dict)
    firings: dict[int, Firing] = field(default_factory=dict)

    def space(self, studio_id: int) -> tuple[Span, ...]:
        """Every start at a studio, worked out once."""
        if studio_id not in self.spaces:
            self.spaces[studio_id] = start_space(self.world, self.asks[studio_id], *self.within)
        return self.spaces[studio_id]

    def joined_by(self, placements: Iterable[Placement]) -> dict[int, Firing]:
        """The firings that some placements join; each is read once."""
        wanted = {f.joins for each in placements for f in each.firings if f.joins is not None}
        if lacking := wanted - self.firings.keys():
            self.firings.update(Firing.objects.in_bulk(lacking))
        return self.firings

    def asked(self) -> list[Ask]:
        """The asks of the studios where nothing hinders the course altogether."""
        return [ask for key, ask in self.asks.items() if key not in self.hindrances]


@contextmanager
def question(
    *,
    course: Course,
    studios: Iterable[Studio],
    instructor: Person,
    first: dt.datetime,
    last: dt.datetime,
    over_by: dt.time | None = None,
    notice: bool = True,
    promised: Mapping[int, Span] = NOTHING_PROMISED,
) -> Iterator[Question]:
    """Everything that must be known to say when a course can be held between two moments.

    `over_by`: it is to be over by a time of day, by each studio's clock. `notice`: the notice that a studio
    asks for is kept. `promised`: the hours that somebody has promised to this class, whatever their own
    calendar says. While this is open, no other question is answered by this process.
    """
    rows = {studio.pk: studio for studio in studios}
    hindrances = {key: _hindrance(course, studio, instructor) for key, studio in rows.items()}
    horizon = horizon_around(first, last)
    others = {key: could_assist(course, studio, instructor) for key, studio in rows.items()}
    people = {person.pk: person for person in (instructor, *chain.from_iterable(others.values()))}
    with known(rows.values(), horizon, people.values()) as found:
        yield Question(
            world=with_promises_kept(found.world, promised) if promised else found.world,
            asks={
                key: replace(
                    ask_of(course, studio, instructor, others[key]),
                    over_by=latest_ends(over_by, studio.zone, horizon),
                    notice=notice,
                )
                for key, studio in rows.items()
            },
            studios=rows,
            equipment=found.equipment,
            hindrances={key: error for key, error in hindrances.items() if error is not None},
            within=(floor_minutes(first), floor_minutes(last)),
        )


def examine(
    *,
    course: Course,
    studio: Studio,
    instructor: Person,
    starts_at: dt.datetime,
    others: Iterable[Studio] = (),
    over_by: dt.time | None = None,
    notice: bool = True,
    promised: Mapping[int, Span] = NOTHING_PROMISED,
) -> Option | Refused:
    """What one start would hold, or why it cannot be had; at `others` it is tried as a way out."""
    margin = dt.timedelta(minutes=NEAREST_WITHIN_MIN)
    with question(
        course=course,
        studios=[studio, *others],
        instructor=instructor,
        first=starts_at - margin,
        last=starts_at + margin,
        over_by=over_by,
        notice=notice,
        promised=promised,
    ) as asked:
        return _said(asked, _judged(asked, asked.studios[studio.pk], floor_minutes(starts_at)))


def wishes(
    *,
    course: Course,
    studios: Iterable[Studio],
    instructor: Person,
    first_day: dt.date,
    last_day: dt.date,
    time: dt.time,
    over_by: dt.time | None = None,
) -> list[Option | Refused]:
    """One answer for each day and studio at a wished wall time, in the order of the days."""
    wanted = sorted(studios, key=lambda studio: studio.name)
    margin = dt.timedelta(minutes=NEAREST_WITHIN_MIN)
    noons = [noon(day, studio) for day in (first_day, last_day) for studio in wanted]
    if not noons:
        return []
    with question(
        course=course,
        studios=wanted,
        instructor=instructor,
        first=min(noons) - margin,
        last=max(noons) + margin,
        over_by=over_by,
    ) as asked:
        every = [(day, studio) for day in _days(first_day, last_day) for studio in wanted]
        return on_days(asked, every, time)


def noon(day: dt.date, studio: Studio) -> dt.datetime:
    """The middle of a day at a studio."""
    return dt.datetime.combine(day, dt.time(12), studio.zone)


def _days(first: dt.date, last: dt.date) -> Iterator[dt.date]:
    for offset in range((last - first).days + 1):
        yield first + dt.timedelta(days=offset)


def _hindrance(course: Course, studio: Studio, instructor: Person) -> SchedulingError | None:
    try:
        require_teachable(course, studio, instructor)
    except SchedulingError as error:
        return error
    return None


@dataclass(frozen=True, kw_only=True)
class Judged:
    """What the engine says to one start at a studio; an error is what no other time would change."""

    studio: Studio
    start: int | None
    answer: Placement | Refusal | SchedulingError
    opened: tuple[Opening, ...] = ()

    @property
    def placements(self) -> list[Placement]:
        """All that would be held: by the start itself, or by what would open it."""
        own = [self.answer] if isinstance(self.answer, Placement) else []
        return [*own, *(each.placement for each in self.opened)]


def on_days(
    asked: Question, days: Iterable[tuple[dt.date, Studio]], time: dt.time, *, opened: bool = True
) -> list[Option | Refused]:
    """What a course would hold at a wall time on some days, or why not; `opened`: and what would open it.

    The firings that any of them joins are read together.
    """
    every = [_on_day(asked, studio, day, time, opened=opened) for day, studio in days]
    asked.joined_by(placement for one in every for placement in one.placements)
    return [_said(asked, one) for one in every]


def _on_day(asked: Question, studio: Studio, day: dt.date, time: dt.time, *, opened: bool) -> Judged:
    try:
        start = wall_minutes(day, time, studio.zone)
    except NoSuchWallTime as error:
        return Judged(studio=studio, start=None, answer=error)
    return _judged(asked, studio, start, opened=opened)


def _judged(asked: Question, studio: Studio, start: int, *, opened: bool = True) -> Judged:
    if studio.pk in asked.hindrances:
        return Judged(studio=studio, start=start, answer=asked.hindrances[studio.pk])
    answer = place(asked.world, asked.asks[studio.pk], start)
    found = _opened(asked, studio.pk, answer.start) if opened and isinstance(answer, Refusal) else ()
    return Judged(studio=studio, start=start, answer=answer, opened=found)


def _said(asked: Question, one: Judged) -> Option | Refused:
    if isinstance(one.answer, SchedulingError):
        return _never(one.studio, one.start, one.answer)
    if isinstance(one.answer, Placement):
        return option(asked, asked.asks[one.studio.pk], one.answer)
    return _refused(asked, one.studio, one.answer, one.opened)


def _never(studio: Studio, start: int | None, error: SchedulingError) -> Refused:
    """A refusal that no other time would change."""
    reason = ReasonLine(code=error.code, sentence=now_said(error.said), until=None)
    return Refused(studio=studio, starts_at=moment(start) if start is not None else None, reasons=(reason,))


def option(asked: Question, ask: Ask, placement: Placement) -> Option:
    """A placement with the rows that its records stand for."""
    firings = asked.joined_by([placement])
    lines = [_line(asked, held, None) for held in placement.held]
    lines += [_line(asked, f.held, firings.get(f.joins or 0)) for f in placement.firings]
    return Option(
        studio=asked.studios[ask.studio_id],
        starts_at=moment(placement.start),
        ends_at=moment(placement.end),
        held=tuple(lines),
        notes=tuple(now_said(note) for note in placement.notes),
        journeys=tuple(_journey(ask, one) for one in journeys(asked.world, ask, placement.start)),
        staffed=_staffed(asked, ask, placement),
    )


def _journey(ask: Ask, one: Journey) -> JourneyLine:
    return JourneyLine(
        before=one.before,
        what=now_said(one.other.what),
        studio=one.other.studio,
        here=one.other.studio_id == ask.studio_id,
        starts_at=moment(one.other.span[0]),
        ends_at=moment(one.other.span[1]),
        travel_min=one.travel_min,
        spare_min=one.spare_min,
    )


def _staffed(asked: Question, ask: Ask, placement: Placement) -> tuple[Span, ...]:
    """When somebody is there, from the first thing that is held to the last."""
    every = [*placement.held, *(firing.held for firing in placement.firings)]
    first = min((held.span[0] for held in every), default=placement.start)
    last = max((held.span[1] for held in every), default=placement.end)
    return tuple(overlapping(asked.world.studios[ask.studio_id].staffed[Duty.PRESENT], first, last))


def _line(asked: Question, held: Held, joins: Firing | None) -> HeldLine:
    return HeldLine(
        equipment=asked.equipment[held.apparatus_id],
        place=held.place,
        starts_at=moment(held.span[0]),
        ends_at=moment(held.span[1]),
        phases=tuple(_phase(phase) for phase in held.phases),
        joins=joins,
        curve=held.phases,
    )


def _phase(phase: PhaseSpan) -> PhaseLine:
    return PhaseLine(
        kind=phase.kind.value,
        starts_at=moment(phase.span[0]),
        ends_at=moment(phase.span[1]),
        from_c=phase.from_c,
        to_c=phase.to_c,
    )


def _opened(asked: Question, studio_id: int, start: int) -> tuple[Opening, ...]:
    others = [other for other in asked.asked() if other.studio_id != studio_id]
    return tuple(openings(asked.world, [asked.asks[studio_id], *others], start, asked.space(studio_id)))


def _opening(asked: Question, one: Opening) -> OpeningLine:
    return OpeningLine(
        change=one.change.value,
        sentence=now_said(one.sentence),
        option=option(asked, one.ask, one.placement),
    )


def _refused(asked: Question, studio: Studio, refusal: Refusal, opened: Iterable[Opening]) -> Refused:
    return Refused(
        studio=studio,
        starts_at=moment(refusal.start),
        reasons=tuple(
            ReasonLine(
                code=reason.code,
                sentence=now_said(reason.sentence),
                until=moment(reason.until) if reason.until is not None else None,
            )
            for reason in refusal.reasons
        ),
        openings=tuple(_opening(asked, one) for one in opened),
    )
