"""Calendar files over HTTP: a rolling window by secret link, one ISO week for the person signed in."""

from __future__ import annotations

import hashlib

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotFound
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_safe

from scheduling.errors import InvalidInput
from scheduling.ical.event import CalendarEvent
from scheduling.ical.writer import CalendarFile, calendar_bytes
from scheduling.models import FeedKey
from scheduling.selectors.calendar import rolling_calendar, week_calendar
from scheduling.services.calendars import note_feed_use
from studios.models import Person


class SignedIn(HttpRequest):
    """A request whose sender is known."""

    user: Person


@require_safe
def feed(request: HttpRequest, key: str) -> HttpResponseBase:
    """A person's calendar over the rolling window. A link that is wrong or withdrawn is not found."""
    open_keys = FeedKey.objects.filter(revoked_at__isnull=True, person__is_active=True)
    feed_key = open_keys.select_related("person").filter(key=key).first()
    if feed_key is None:
        # Calendar programs ask again and again: a page made for people would be wasted on them.
        return HttpResponseNotFound("There is no such calendar.\n", content_type="text/plain")
    now = timezone.now()
    note_feed_use(feed_key=feed_key, day=now.date())
    file = rolling_calendar(person=feed_key.person, now=now)
    return _answer(request, file, filename="lehrbook.ics", keep=False)


@require_safe
@login_required
def week_file(request: SignedIn, year: int, week: int) -> HttpResponseBase:
    """One ISO week of the person signed in, as a file to keep."""
    try:
        file = week_calendar(person=request.user, year=year, week=week)
    except InvalidInput as error:
        raise Http404(str(error)) from error
    return _answer(request, file, filename=f"lehrbook-{year}-W{week:02d}.ics", keep=True)


def _answer(request: HttpRequest, file: CalendarFile, *, filename: str, keep: bool) -> HttpResponseBase:
    """The bytes, their strong ETag, and 304 to whoever holds them already."""
    content = calendar_bytes(file, link=lambda event: _address(request, event))
    response = HttpResponse(
        b"" if request.method == "HEAD" else content,
        content_type="text/calendar; charset=utf-8",
        headers={
            "Content-Length": str(len(content)),
            "Content-Disposition": content_disposition_header(keep, filename) or "inline",
            "Cache-Control": "private, no-cache",
            "ETag": f'"{hashlib.sha256(content).hexdigest()[:32]}"',
        },
    )
    return get_conditional_response(request, etag=response["ETag"], response=response) or response


def _address(request: HttpRequest, event: CalendarEvent) -> str:
    name, *args = event.page
    return request.build_absolute_uri(reverse(name, args=args))
