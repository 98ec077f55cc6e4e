"""The safety text of a studio: read once a term by whoever works there, in the version that is in force."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from scheduling.errors import InvalidInput, SafetyUnread
from scheduling.selectors.safety import day_at, has_read, term_around, text_in_force, to_acknowledge
from scheduling.services import audit
from scheduling.services.transactions import lock, one_write
from studios.models import Acknowledgement, Person, SafetyText, Studio
from studios.said import said


@one_write
def acknowledge(*, person: Person, studio: Studio, on_day: dt.date, version: int) -> Acknowledgement:
    """A person says to have read a studio's text; it counts for the term of the day.

    A second time changes nothing. Raises SafetyUnread, with the text, where another version is in force by
    now, and InvalidInput where the studio has none.
    """
    lock(people=[person.pk])
    text = text_in_force(studio)
    if text is None:
        raise InvalidInput(
            field="studio", problem=said("{studio} has no safety text to be read.", studio=studio.name)
        )
    if text.version != version:
        raise unread(text)
    return write_acknowledgement(person, text, on_day)


def write_acknowledgement(person: Person, text: SafetyText, day: dt.date) -> Acknowledgement:
    """What was read, by whom, in which version and for which days."""
    if has_read(person=person, text=text, day=day):
        return Acknowledgement.objects.filter(
            person=person, text=text, first_day__lte=day, last_day__gte=day
        )[0]
    first, last = term_around(text.studio, day)
    # A term that has been made longer since begins on the same day.
    row, _ = Acknowledgement.objects.update_or_create(
        person=person,
        text=text,
        first_day=first,
        defaults={"last_day": last, "acknowledged_at": timezone.now()},
    )
    noted = f"{person.name} has read the safety text, version {text.version}, for {first} to {last}"
    audit.note(actor=person, did="acknowledge", subject=person, studio=text.studio, said=noted)
    return row


def require_read(
    *, actor: Person, person: Person, studio: Studio, starts_at: dt.datetime, acknowledged: int | None
) -> SafetyText | None:
    """Who books a seat has read the text, or says so now by its version; the text that is left to be read.

    Where somebody of the studio books for another the seat stands, and the text is left: the person is told,
    and asked on the own page. Raises SafetyUnread, with the text.
    """
    day = day_at(studio, starts_at)
    text = to_acknowledge(person=person, studio=studio, day=day)
    if text is None or actor != person:
        return text
    if acknowledged != text.version:
        raise unread(text)
    write_acknowledgement(person, text, day)
    return None


def unread(text: SafetyText) -> SafetyUnread:
    """A refusal that carries the text, so that it can be read at once."""
    return SafetyUnread(
        field="acknowledged",
        studio=text.studio.name,
        version=text.version,
        safety_text={"studio": text.studio.slug, "version": text.version, "body": text.body},
    )
