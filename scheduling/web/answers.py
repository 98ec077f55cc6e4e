"""What a search for a class found, as it is read: places in their order, and days refused for one reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Generic, TypeVar

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from scheduling.engine.measures import Measure
from scheduling.engine.openings import Change
from scheduling.selectors.offers import OfferLine
from scheduling.selectors.options import OpeningLine, Option, Refused
from scheduling.web.ranks import measured, why_ranked, why_that_day
from scheduling.web.shown import Shown, shown
from studios.models import Studio

MOST_AT_ONCE = 6
# What a person would have to do first; a course is set up by the studio's manager.
TO_CHANGE = {
    Change.THICKNESS.value: _("That takes a course of thinner pieces."),
    Change.LENGTH.value: _("That takes a shorter course."),
    Change.TORCHES.value: _("That takes a course with fewer torches."),
}
Dated = Sequence[tuple[dt.date, Option | Refused]]
Each = TypeVar("Each")


@dataclass(frozen=True, kw_only=True)
class Opening:
    """What would open a refused start; it is booked as it stands, or `to_change` says what comes first."""

    sentence: str
    start: Shown
    to_change: str | Promise


@dataclass(frozen=True, kw_only=True)
class Refusal:
    """Days refused at one studio for the same reasons; no start: the clocks have no such hour."""

    studio: Studio
    days: list[tuple[dt.date, dt.datetime | None]]
    sentences: list[str]
    openings: list[Opening]


@dataclass(frozen=True, kw_only=True)
class Place:
    """One place among the starts, and why it is that one: one start, or a day with one for each studio."""

    why: str
    words: str
    sides: list[Shown | Refusal]

    @property
    def starts(self) -> list[Shown]:
        return [side for side in self.sides if isinstance(side, Shown)]


@dataclass(frozen=True, kw_only=True)
class Cut(Generic[Each]):
    """A long list: what is seen at once, and what is a click away."""

    first: Sequence[Each]
    further: Sequence[Each]


def cut(every: Sequence[Each]) -> Cut[Each]:
    """The first of a list, and the others."""
    return Cut(first=every[:MOST_AT_ONCE], further=every[MOST_AT_ONCE:])


def ranked(offers: Sequence[OfferLine], order: Measure) -> list[Place]:
    """The best starts, each with how it measures and how far it is from the best."""
    return [
        Place(why=why, words=measured(offer, order), sides=[shown(offer.option)])
        for offer, why in zip(offers, why_ranked(offers, order), strict=True)
    ]


def day_by_day(dated: Dated, time: dt.time) -> list[Place]:
    """The days on which a start works somewhere, with what each of the studios says to it."""
    days = [(day, answers) for day, answers in _by_day(dated) if _any_start(answers)]
    whys = why_that_day([day for day, _answers in days], time)
    return [
        Place(why=why, words="", sides=[_side(day, answer) for answer in answers])
        for (day, answers), why in zip(days, whys, strict=True)
    ]


def without_any_start(dated: Dated) -> Dated:
    """The days on which nothing works at any studio."""
    return [(day, answer) for day, answers in _by_day(dated) if not _any_start(answers) for answer in answers]


def alike(dated: Dated) -> list[Refusal]:
    """Days refused at one studio for the same reasons, with nothing to open them, stand together."""
    groups: dict[tuple[object, ...], list[tuple[dt.date, Refused]]] = {}
    for day, one in dated:
        if isinstance(one, Refused):
            sentences = tuple(reason.sentence for reason in one.reasons)
            apart = day if one.openings else None
            groups.setdefault((one.studio.pk, sentences, apart), []).append((day, one))
    return [_refusal(group) for group in groups.values()]


def opening(line: OpeningLine) -> Opening:
    """A change of time or studio is booked as it stands; for any other it is said what has to be changed."""
    return Opening(sentence=line.sentence, start=shown(line.option), to_change=TO_CHANGE.get(line.change, ""))


def _by_day(dated: Dated) -> Iterator[tuple[dt.date, list[Option | Refused]]]:
    for day, group in groupby(dated, key=lambda one: one[0]):
        yield day, [answer for _day, answer in group]


def _any_start(answers: Iterable[Option | Refused]) -> bool:
    return any(isinstance(answer, Option) for answer in answers)


def _side(day: dt.date, answer: Option | Refused) -> Shown | Refusal:
    return shown(answer) if isinstance(answer, Option) else _refusal([(day, answer)])


def _refusal(group: Sequence[tuple[dt.date, Refused]]) -> Refusal:
    _day, first = group[0]
    return Refusal(
        studio=first.studio,
        days=[(day, one.starts_at) for day, one in group],
        sentences=[reason.sentence for reason in first.reasons],
        openings=[opening(line) for line in first.openings],
    )
