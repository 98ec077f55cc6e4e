"""What a studio wants read about safety, and whether somebody has read it in this term."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import SeatStatus, Session
from studios.models import Acknowledgement, Person, SafetyText, Studio, Term
from studios.selectors import studios_of

Days = tuple[dt.date, dt.date]


def text_in_force(studio: Studio) -> SafetyText | None:
    """The last version that has begun; None where a studio asks for nothing."""
    begun = SafetyText.objects.filter(studio=studio, since__lte=timezone.now())
    return begun.order_by("-version").first()


def term_around(studio: Studio, day: dt.date) -> Days:
    """The term that covers a day, first and last day included; without one, the calendar year."""
    terms = Term.objects.filter(studio=studio, first_day__lte=day, last_day__gte=day)
    term = terms.order_by("-first_day", "-pk").first()
    if term is None:
        return dt.date(day.year, 1, 1), dt.date(day.year, 12, 31)
    return term.first_day, term.last_day


def day_at(studio: Studio, moment: dt.datetime) -> dt.date:
    """The day of a moment by the studio's clock."""
    return moment.astimezone(studio.zone).date()


def to_acknowledge(*, person: Person, studio: Studio, day: dt.date) -> SafetyText | None:
    """The text in force that a person has not yet read for the term of a day; None: nothing is left to read.

    A newer version in the same term is asked for again.
    """
    text = text_in_force(studio)
    if text is None or has_read(person=person, text=text, day=day):
        return None
    return text


def has_read(*, person: Person, text: SafetyText, day: dt.date) -> bool:
    """Whether a person has said to know this version, for a stretch that covers the day."""
    return Acknowledgement.objects.filter(
        person=person, text=text, first_day__lte=day, last_day__gte=day
    ).exists()


def texts_of(person: Person) -> QuerySet[SafetyText]:
    """The versions of the texts of a person's studios that have begun, the newest of each studio first."""
    begun = SafetyText.objects.filter(studio__in=studios_of(person), since__lte=timezone.now())
    return begun.select_related("studio").order_by("studio__slug", "-version")


def read_by(person: Person) -> QuerySet[Acknowledgement]:
    """What a person has read, the last first."""
    return person.acknowledgements.select_related("text__studio").order_by("-acknowledged_at", "-id")


@dataclass(frozen=True, kw_only=True)
class LeftToRead:
    """A text that somebody who comes to a studio has still to read, and the first day of that term."""

    text: SafetyText
    day: dt.date


def left_to_read(person: Person) -> list[LeftToRead]:
    """What a person has still to read for the seats to come, once for each studio and term."""
    ahead = person.seats.filter(status=SeatStatus.BOOKED, ends_at__gt=timezone.now())
    found: dict[tuple[int, Days], LeftToRead] = {}
    for seat in ahead.select_related("studio").order_by("starts_at"):
        day = day_at(seat.studio, seat.starts_at)
        term = (seat.studio_id, term_around(seat.studio, day))
        if term not in found and (text := to_acknowledge(person=person, studio=seat.studio, day=day)):
            found[term] = LeftToRead(text=text, day=day)
    return list(found.values())


def unread_in(session: Session, people: Iterable[int]) -> frozenset[int]:
    """Those of some people who have not read the text in force for the day of a session."""
    text, day = text_in_force(session.studio), day_at(session.studio, session.starts_at)
    if text is None:
        return frozenset()
    read = text.acknowledgements.filter(first_day__lte=day, last_day__gte=day)
    return frozenset(people) - frozenset(read.values_list("person_id", flat=True))
