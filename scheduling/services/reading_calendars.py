"""Other calendars are fetched and read again and again, in the background, one after another.

    due --claimed--> fetched, or not changed, or not to be had --read apart--> written, its person locked
                     what fails keeps the last good copy, is noted, and tried again later

No transaction is open while somebody else's server is waited for, or while a calendar is read. Of several
that read one calendar, whoever claimed it last writes what was found.
"""

from __future__ import annotations

import datetime as dt
import time
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from scheduling.errors import UnfetchableCalendar, UnreadableCalendar
from scheduling.ical.reading.fetch import fetch
from scheduling.models import OtherCalendar
from scheduling.selectors.calendar import home_of
from scheduling.selectors.other_calendars import host_of, keepers
from scheduling.services.messages import tell
from scheduling.services.other_calendars import LAID_OUT_EVERY, Reading, content_of, lay_out, read
from scheduling.services.transactions import lock, one_write
from scheduling.wording import when
from studios.said import said

FETCHED_EVERY = dt.timedelta(hours=2)
FIRST_WAIT, LONGEST_WAIT = dt.timedelta(minutes=15), dt.timedelta(hours=12)
# Longer than the slowest server may take, and the reading of a file besides.
CLAIMED_FOR = dt.timedelta(minutes=10)
TOLD_AFTER = dt.timedelta(days=1)
# Other rounds of the same process wait meanwhile; what is left over is found by the next one.
MOST_AT_ONCE, ENOUGH_S = 20, 30.0
NEVER_SENT = "Its server says that nothing has changed, and has never sent it."
MOST_OF_A_PROBLEM, LONGEST_ETAG, LONGEST_DATE = 400, 300, 60


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A calendar that is being read, since when, and whether for the first time on that day."""

    calendar: OtherCalendar
    since: dt.datetime
    first_of_day: bool


@dataclass(frozen=True, kw_only=True)
class Found:
    """What came of it: a reading to be laid out, if any; and the problem, if any."""

    reading: Reading | None = None
    etag: str = ""
    last_modified: str = ""
    problem: str = ""


def read_due(between: Callable[[], None] = lambda: None) -> int:
    """Read the calendars that are due, and call `between` before each step; returns how many were read."""
    done, begun = 0, time.monotonic()
    while done < MOST_AT_ONCE and time.monotonic() - begun < ENOUGH_S:
        between()
        claim = _claim()
        if claim is None:
            break
        _write(claim, _find(claim, between))
        done += 1
    return done


def due() -> QuerySet[OtherCalendar]:
    """What can be read now, the longest due first; of whoever no longer teaches nothing is fetched."""
    waiting = OtherCalendar.objects.filter(next_try_at__lte=timezone.now(), person__in=keepers())
    return waiting.order_by("next_try_at", "pk")


def _claim() -> Claim | None:
    if not due().exists():  # where nothing is due, nothing is locked
        return None
    with transaction.atomic():
        calendar = due().select_for_update(skip_locked=True, of=("self",)).first()
        if calendar is None:
            return None
        now, before = timezone.now(), calendar.tried_at
        calendar.tried_at, calendar.next_try_at = now, now + CLAIMED_FOR
        calendar.save(update_fields=["tried_at", "next_try_at"])
    first_of_day = before is None or before.astimezone(dt.UTC).date() < now.astimezone(dt.UTC).date()
    return Claim(calendar=calendar, since=now, first_of_day=first_of_day)


def _find(claim: Claim, between: Callable[[], None]) -> Found:
    """Fetch it, where it has a link, and read what is new; once a day the copy is laid out anew in any case.

    So its hours reach as far ahead as before, also while nothing new is to be had.
    """
    copy = content_of(claim.calendar)
    found = _fetched(claim.calendar, copy) if claim.calendar.link else Found()
    between()
    if found.reading is not None or copy is None or not claim.first_of_day:
        return found
    try:
        return replace(found, reading=read(claim.calendar.person, copy))
    except UnreadableCalendar as error:
        return replace(found, problem=found.problem or str(error))


def _fetched(calendar: OtherCalendar, copy: bytes | None) -> Found:
    """What its link gives. By what to ask for changes is kept only of what could be read."""
    before = Found(etag=calendar.etag, last_modified=calendar.last_modified)
    try:
        answer = fetch(calendar.link, etag=calendar.etag, last_modified=calendar.last_modified)
        if answer.content is None:
            return before if copy is not None else replace(before, problem=NEVER_SENT)
        reading = None if answer.content == copy else read(calendar.person, answer.content)
    except (UnfetchableCalendar, UnreadableCalendar) as error:
        return replace(before, problem=str(error))
    return Found(
        reading=reading,
        etag=_mark(answer.etag, LONGEST_ETAG),
        last_modified=_mark(answer.last_modified, LONGEST_DATE),
    )


def _mark(said: str, longest: int) -> str:
    """What a server says to be asked for changes by, where it can be kept whole."""
    return said if said.isprintable() and len(said) <= longest else ""


@one_write
def _write(claim: Claim, found: Found) -> None:
    """Put down what was found, unless the calendar was taken away or claimed anew meanwhile."""
    person = claim.calendar.person
    lock(people=[person.pk])
    ours = OtherCalendar.objects.filter(pk=claim.calendar.pk, tried_at=claim.since)
    calendar = ours.select_for_update().first()
    if calendar is None:
        return
    if found.reading is not None:
        lay_out(calendar, found.reading.spans)
        calendar.content = zlib.compress(found.reading.content)
    calendar.etag, calendar.last_modified = found.etag, found.last_modified
    if found.problem:
        _failed(calendar, found.problem)
    else:
        _succeeded(calendar)
    calendar.save()


def _succeeded(calendar: OtherCalendar) -> None:
    now = timezone.now()
    calendar.read_at, calendar.failures, calendar.problem = now, 0, ""
    calendar.next_try_at = now + (FETCHED_EVERY if calendar.link else LAID_OUT_EVERY)


def _failed(calendar: OtherCalendar, problem: str) -> None:
    """Tried again later and later; whoever it belongs to is told once when it has failed for a day."""
    now, since = timezone.now(), calendar.read_at or calendar.created_at
    calendar.failures += 1
    calendar.problem = problem[:MOST_OF_A_PROBLEM]
    calendar.next_try_at = now + min(FIRST_WAIT * 2 ** min(calendar.failures - 1, 10), LONGEST_WAIT)
    home = home_of(calendar.person)
    if now - since >= TOLD_AFTER and home is not None:
        where = said(" from {host}", host=host) if (host := host_of(calendar)) else ""
        tell(
            person=calendar.person,
            subject=said("Your calendar “{calendar}” cannot be read", calendar=calendar.label),
            body=said(
                "Since {when} your calendar “{calendar}”{where} could not be read. {problem}\nThe hours "
                "that were read last stay in force. Give a new link, or take the calendar away, on the "
                "page of your other calendars.\n",
                when=when(since, home),
                calendar=calendar.label,
                where=where,
                problem=calendar.problem,
            ),
            key=f"calendar-unread-{calendar.uid}-{since.timestamp():.0f}",
        )
