"""The best starts of a course over many days and studios, and the times that a weekly class can have."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from scheduling.engine.choosing import offers
from scheduling.engine.clock import MIDNIGHT, floor_minutes, moment, whole_day
from scheduling.engine.measures import Measure
from scheduling.engine.series import weekly_days, weekly_space
from scheduling.errors import SchedulingError
from scheduling.models import Course
from scheduling.selectors.options import Option, Refused, on_days, option, question
from scheduling.wording import long
from studios.models import Person, Studio

MOST_DAYS = 92
MOST_WEEKS = 52
# What can count, by the word that stands in an address: such a word is never renamed.
ORDERS = {
    "earliest": Measure.EARLIEST,
    "nearest": Measure.NEAREST,
    "attended": Measure.NIGHT,
    "warm": Measure.WARM,
    "energy": Measure.ENERGY,
    "travel": Measure.TRAVEL,
}
UNITS = {
    Measure.NEAREST: "{} from the wished time",
    Measure.NIGHT: "{} held while nobody is there",
    Measure.WARM: "{} of heating up",
    Measure.ENERGY: "{:.1f} kWh",
    Measure.TRAVEL: "{} on the way",
}


@dataclass(frozen=True, kw_only=True)
class OfferLine:
    """One of the best starts, and how it measures by what was asked for."""

    option: Option
    measured: float
    words: str


def best_starts(
    *,
    course: Course,
    studios: Iterable[Studio],
    instructor: Person,
    first_day: dt.date,
    last_day: dt.date,
    order: Measure = Measure.EARLIEST,
    time: dt.time | None = None,
    over_by: dt.time | None = None,
    most: int = 20,
) -> list[OfferLine]:
    """The best starts between two days, one for each day and studio. Raises what hinders the course."""
    wanted = sorted(studios, key=lambda studio: studio.name)
    spans = [whole_day(day, s.zone) for s in wanted for day in (first_day, last_day)]
    within = min(span[0] for span in spans), max(span[1] for span in spans)
    wish = None
    if time is not None:
        wish = floor_minutes(dt.datetime.combine(first_day, time, wanted[0].zone))
    with question(
        course=course,
        studios=wanted,
        instructor=instructor,
        first=moment(within[0]),
        last=moment(within[1]),
        over_by=over_by,
    ) as asked:
        require_one(asked.hindrances, wanted)
        found = offers(asked.world, asked.asked(), within, order=order, wish=wish, most=most)
        asked.joined_by(offer.placement for offer in found)
        return [
            OfferLine(
                option=option(asked, offer.ask, offer.placement),
                measured=offer.measured,
                words=_said(order, offer.measured),
            )
            for offer in found
        ]


def _said(order: Measure, measured: float) -> str:
    """How a start measures, in words: 10 h 30 min held while nobody is there."""
    return UNITS.get(order, "").format(measured if order is Measure.ENERGY else long(round(measured)))


def require_one(hindrances: dict[int, SchedulingError], studios: Collection[Studio]) -> None:
    """A course that can be taught at none of the studios is refused with the first reason why."""
    if hindrances and len(hindrances) == len(studios):
        raise next(iter(hindrances.values()))


@dataclass(frozen=True, kw_only=True)
class TimesLine:
    """Times of day by the studio's clock, the last minute included, and the weeks that spoil them."""

    first: dt.time
    last: dt.time
    spoilt_by: tuple[dt.date, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SeriesFound:
    """A weekly class: its days, the times that work every week, and those that few weeks spoil.

    With a time, also what each meeting would hold, and why a week that spoils the time cannot have it.
    """

    studio: Studio
    days: tuple[dt.date, ...]
    times: tuple[TimesLine, ...]
    spoilt: tuple[TimesLine, ...]
    meetings: tuple[Option, ...]
    refused: tuple[Refused, ...]


def weekly_times(
    *,
    course: Course,
    studio: Studio,
    instructor: Person,
    first_day: dt.date,
    weeks: int,
    skipped: Collection[dt.date] = (),
    time: dt.time | None = None,
    over_by: dt.time | None = None,
) -> SeriesFound:
    """When a class can be held so many weeks on end. Raises what hinders the course."""
    days = weekly_days(first_day, weeks, frozenset(skipped))
    spans = [whole_day(day, studio.zone) for day in (days[0], days[-1])]
    with question(
        course=course,
        studios=[studio],
        instructor=instructor,
        first=moment(spans[0][0]),
        last=moment(spans[1][1]),
        over_by=over_by,
    ) as asked:
        require_one(asked.hindrances, [studio])
        ask = asked.asks[studio.pk]
        space = weekly_space(asked.world, ask, days)
        meetings = [(day, studio) for day in days] if time is not None else []
        answers = on_days(asked, meetings, time or MIDNIGHT, opened=False)
        return SeriesFound(
            studio=studio,
            days=days,
            times=tuple(_times(span) for span in space.every_week),
            spoilt=tuple(_times(span, each.weeks) for each in space.spoilt for span in each.times),
            meetings=tuple(answer for answer in answers if isinstance(answer, Option)),
            refused=tuple(answer for answer in answers if isinstance(answer, Refused)),
        )


def _times(span: tuple[int, int], spoilt_by: tuple[dt.date, ...] = ()) -> TimesLine:
    first, last = (dt.time(*divmod(minute, 60)) for minute in (span[0], span[1] - 1))
    return TimesLine(first=first, last=last, spoilt_by=spoilt_by)
