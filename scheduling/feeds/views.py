"""Calendar files over HTTP: a rolling window by secret link, and days of the person signed in to keep.

    a key --one query--> no link: 404
                     --> its copy stands: 304, or the bytes as they were written last
                     --> anything was written since, or it is another day: written anew, and kept

Nobody is signed in who follows a link, so neither a session nor a person is looked for.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Callable
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.core.exceptions import BadRequest
from django.http import Http404, HttpRequest, HttpResponseBase, HttpResponseNotFound
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_safe

from scheduling.errors import InvalidInput
from scheduling.feeds.answers import Tagged, not_modified, whole
from scheduling.feeds.written import plain, written
from scheduling.ical.event import CalendarFile
from scheduling.models import FeedCopy, FeedForm, FeedKey
from scheduling.selectors.calendar import (
    class_calendar,
    month_calendar,
    seat_calendar,
    term_calendar,
    week_calendar,
)
from scheduling.selectors.feed_copies import Copy, Found, find_copy, whole_copy
from scheduling.selectors.feed_links import rolling_calendar
from scheduling.services.calendars import note_feed_use
from scheduling.services.feed_copies import forget_copies, keep_copy
from studios.models import Person, Term
from studios.selectors import studios_of

LONGEST_BASE = 300  # as scheduling.models.calendars keeps it


class SignedIn(HttpRequest):
    """A request whose sender is known."""

    user: Person


@csrf_exempt  # calendar programs try to write: what is only read is not allowed, whatever they send with it
@require_safe
def feed(request: HttpRequest, key: str, form: FeedForm) -> HttpResponseBase:
    """The calendar of a link over the rolling window. A link that is wrong or withdrawn is not found."""
    now, base = timezone.now(), _base(request)
    found = find_copy(key=key, form=form, base=base, now=now)
    if found is None:
        return _no_such_calendar()
    note_feed_use(link_id=found.link_id, last_used_on=found.last_used_on, day=now.date())
    if found.copy is None:
        copy = _written_anew(found, form, base)
    elif (unchanged := not_modified(request, _tagged(found.copy, form))) is not None:
        return unchanged
    else:
        # Read whole, with its tag: another process may have written it anew since, or let it go.
        copy = whole_copy(found.copy.id) or _written_anew(found, form, base)
    if copy is None:
        return _no_such_calendar()
    return whole(request, _tagged(copy, form), bytes(copy.content))


def _base(request: HttpRequest) -> str:
    """Where the pages are to which events refer."""
    base = f"{request.scheme}://{request.get_host().lower()}"
    if len(base) > LONGEST_BASE:
        raise BadRequest("No host has such a name.")
    return base


def _no_such_calendar() -> HttpResponseBase:
    """Calendar programs ask again and again: a page made for people would be wasted on them."""
    return HttpResponseNotFound("There is no such calendar.\n", content_type="text/plain")


def _tagged(copy: Copy | FeedCopy, form: FeedForm) -> Tagged:
    return Tagged(digest=copy.digest, changed_at=copy.changed_at, form=form, filename=f"lehrbook.{form}")


def _written_anew(found: Found, form: FeedForm, base: str) -> FeedCopy | None:
    """None where the owner may no longer see what the link is about."""
    links = FeedKey.objects.select_related("person", "studio", "equipment__studio")
    link, now = links.get(pk=found.link_id), timezone.now()
    rolling = rolling_calendar(link, now)
    if rolling is None:
        forget_copies(link)
        return None
    return keep_copy(
        link=link,
        form=form,
        base=base,
        count=found.count,
        good_until=rolling.good_until,
        content=written(rolling, link, form, base),
        now=now,
    )


@csrf_exempt
@require_safe
@login_required
def week_file(request: SignedIn, year: int, week: int) -> HttpResponseBase:
    """One ISO week of the person signed in, as a file to keep."""
    return _file(
        request, f"{year}-W{week:02d}", lambda: week_calendar(person=request.user, year=year, week=week)
    )


@csrf_exempt
@require_safe
@login_required
def month_file(request: SignedIn, year: int, month: int) -> HttpResponseBase:
    """One month of the person signed in, as a file to keep."""
    name = f"{year}-{month:02d}"
    return _file(request, name, lambda: month_calendar(person=request.user, year=year, month=month))


@csrf_exempt
@require_safe
@login_required
def term_file(request: SignedIn, studio: str, number: int) -> HttpResponseBase:
    """What the person signed in has in a term of a studio of theirs, as a file to keep."""
    terms = Term.objects.filter(studio__in=studios_of(request.user), studio__slug=studio)
    term = get_object_or_404(terms.select_related("studio"), pk=number)
    name = f"{studio}-{term.first_day}"
    return _file(request, name, lambda: term_calendar(person=request.user, term=term))


@csrf_exempt
@require_safe
@login_required
def seat_file(request: SignedIn, uid: UUID) -> HttpResponseBase:
    """One booked seat of the person signed in, as a file to keep."""
    return _one(request, "seat", seat_calendar(person=request.user, uid=uid))


@csrf_exempt
@require_safe
@login_required
def class_file(request: SignedIn, uid: UUID) -> HttpResponseBase:
    """One class that takes place, as a file to keep."""
    return _one(request, "class", class_calendar(person=request.user, uid=uid))


def _one(request: SignedIn, what: str, calendar: CalendarFile | None) -> HttpResponseBase:
    if calendar is None:
        raise Http404
    event = calendar.events[0]
    day = event.starts_at.astimezone(ZoneInfo(event.zone)).date()
    return _file(request, f"{what}-{day}", lambda: calendar)


def _file(request: SignedIn, name: str, calendar: Callable[[], CalendarFile]) -> HttpResponseBase:
    try:
        content = plain(calendar(), _base(request))
    except InvalidInput as error:
        raise Http404(str(error)) from error
    tagged = Tagged(
        digest=hashlib.sha256(content).hexdigest(),
        form=FeedForm.ICALENDAR,
        filename=f"lehrbook-{name}.ics",
        keep=True,
    )
    return whole(request, tagged, gzip.compress(content, mtime=0))
