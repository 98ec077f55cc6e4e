"""Calendars that whoever teaches keeps elsewhere: given as a file or by link, read again, taken away.

    a file --read apart, while nothing is locked--> a reading --add_file--> a row with its hours
    a link --add_link--> a row that is due --the round (`services.reading_calendars`)--> its hours

Hours are written under the lock of their person, as bookings are, so that no booking finds half of them.
"""

from __future__ import annotations

import datetime as dt
import zlib
from collections.abc import Collection
from dataclasses import dataclass

from django.utils import timezone

from scheduling.errors import (
    InvalidInput,
    NotAllowed,
    NotYours,
    TooManyCalendars,
    UnfetchableCalendar,
    UnreadableCalendar,
)
from scheduling.ical.reading.apart import busy_apart
from scheduling.ical.reading.busy import Span, Window, names_in
from scheduling.ical.reading.fetch import parts_of
from scheduling.models import BusySpan, OtherCalendar
from scheduling.selectors.calendar import home_zone
from scheduling.selectors.other_calendars import host_of, may_keep, ours_among
from scheduling.services import audit
from scheduling.services.transactions import lock, one_write
from studios.models import Person
from studios.said import said
from studios.selectors import studios_of

MOST_CALENDARS = 5
LABEL_LENGTH, LINK_LENGTH = 60, 1000
# What is read: a week back, and as far ahead as anybody plans a term.
BEHIND, AHEAD = dt.timedelta(weeks=1), dt.timedelta(days=400)
# A file does not change, but its hours are laid out anew each day, so that they reach as far ahead as before.
LAID_OUT_EVERY = dt.timedelta(days=1)
WRITTEN_AT_ONCE = 1000


@dataclass(frozen=True, kw_only=True)
class Reading:
    """A calendar as it was read: its text, and the hours that it takes."""

    content: bytes
    spans: tuple[Span, ...]


def read_file(*, actor: Person, content: bytes) -> Reading:
    """What a file says, whole or not at all; nothing is written or locked.

    Raises NotAllowed, or UnreadableCalendar with the line and the reason.
    """
    _require_may_keep(actor)
    try:
        return read(actor, content)
    except UnreadableCalendar as error:
        raise UnreadableCalendar(field="content", **error.facts) from error


def read(person: Person, content: bytes) -> Reading:
    """The hours that a calendar takes of a person, in a bounded process; what is ours takes none.

    Raises UnreadableCalendar.
    """
    now = timezone.now()
    window = Window(begin=now - BEHIND, end=now + AHEAD, zone=home_zone(person))
    spans = busy_apart(content, window, ours_among(names_in(content)))
    return Reading(content=content, spans=tuple(spans))


@one_write
def add_file(*, actor: Person, label: str, reading: Reading) -> OtherCalendar:
    """A calendar as it is in a file. The same file under the same name again changes nothing.

    Raises NotAllowed, InvalidInput or TooManyCalendars.
    """
    _require_may_keep(actor)
    name, packed, now = _name(label), zlib.compress(reading.content), timezone.now()
    lock(people=[actor.pk])
    same = actor.other_calendars.filter(label=name, link="", content=packed).first()
    if same is not None:
        return same
    _require_room(actor)
    calendar = OtherCalendar.objects.create(
        person=actor,
        label=name,
        content=packed,
        read_at=now,
        tried_at=now,
        next_try_at=now + LAID_OUT_EVERY,
    )
    lay_out(calendar, reading.spans)
    _note(actor, "add-calendar", calendar)
    return calendar


@one_write
def add_link(*, actor: Person, label: str, link: str) -> OtherCalendar:
    """A calendar that is fetched by its link, soon for the first time; no request waits for that.

    Raises NotAllowed, InvalidInput or TooManyCalendars.
    """
    _require_may_keep(actor)
    name, address = _name(label), _address(link)
    lock(people=[actor.pk])
    known = actor.other_calendars.filter(link=address).first()
    if known is not None:
        raise InvalidInput(
            field="link", problem=said("This link is read already, as {known}.", known=known.label)
        )
    _require_room(actor)
    calendar = OtherCalendar.objects.create(person=actor, label=name, link=address)
    _note(actor, "add-calendar", calendar)
    return calendar


@one_write
def remove(*, actor: Person, calendar: OtherCalendar) -> None:
    """Take a calendar away, with the hours that it took. Raises NotYours."""
    _require_own(actor, calendar)
    lock(people=[calendar.person_id])
    _note(actor, "remove-calendar", calendar)
    OtherCalendar.objects.filter(pk=calendar.pk).delete()


@one_write
def read_again(*, actor: Person, calendar: OtherCalendar) -> OtherCalendar:
    """Have a calendar read by the next round, whenever it would have been. Raises NotYours."""
    _require_own(actor, calendar)
    lock(people=[calendar.person_id])
    OtherCalendar.objects.filter(pk=calendar.pk).update(next_try_at=timezone.now())
    _note(actor, "read-calendar", calendar)
    calendar.refresh_from_db()
    return calendar


def lay_out(calendar: OtherCalendar, spans: Collection[Span]) -> None:
    """The hours of a calendar in the place of those that it had; the caller has locked its person."""
    rows = calendar.spans.values_list("pk", "starts_at", "ends_at")
    had, wanted = {(since, until): key for key, since, until in rows}, set(spans)
    gone = [key for span, key in had.items() if span not in wanted]
    for at in range(0, len(gone), WRITTEN_AT_ONCE):
        BusySpan.objects.filter(pk__in=gone[at : at + WRITTEN_AT_ONCE]).delete()
    BusySpan.objects.bulk_create(
        [
            BusySpan(calendar=calendar, person_id=calendar.person_id, starts_at=since, ends_at=until)
            for since, until in spans
            if (since, until) not in had
        ],
        batch_size=WRITTEN_AT_ONCE,
    )


def content_of(calendar: OtherCalendar) -> bytes | None:
    """The last good copy of a calendar."""
    return None if calendar.content is None else zlib.decompress(calendar.content)


def _require_may_keep(actor: Person) -> None:
    if not may_keep(actor):
        own = " or ".join(studio.name for studio in studios_of(actor)) or "any studio"
        raise NotAllowed(
            who=actor.name, what=said("have another calendar read"), studio=own, role=said("instructor")
        )


def _require_own(actor: Person, calendar: OtherCalendar) -> None:
    if calendar.person_id != actor.pk:
        raise NotYours(what=said("This calendar"))


def _require_room(actor: Person) -> None:
    if (count := actor.other_calendars.count()) >= MOST_CALENDARS:
        raise TooManyCalendars(who=actor.name, count=count)


def _name(label: str) -> str:
    name = label.strip()
    if not name or len(name) > LABEL_LENGTH:
        problem = f"Give the calendar a name of 1 to {LABEL_LENGTH} letters, such as “home”."
        raise InvalidInput(field="label", problem=problem)
    return name


def _address(link: str) -> str:
    address = link.strip()
    if len(address) > LINK_LENGTH or any(letter.isspace() or not letter.isprintable() for letter in address):
        problem = f"A link has at most {LINK_LENGTH} letters, and no blank among them."
        raise InvalidInput(field="link", problem=problem)
    try:
        parts_of(address)
    except UnfetchableCalendar as error:
        raise InvalidInput(field="link", problem=str(error)) from error
    return address


def _note(actor: Person, did: str, calendar: OtherCalendar) -> None:
    """Neither its name nor its link: what else somebody does is nobody's business here."""
    came = "by link" if host_of(calendar) else "as a file"
    noted = f"Another calendar of {calendar.person.name}, {came}"
    audit.note_of_account(actor=actor, did=did, subject=calendar, person=calendar.person, said=noted)
