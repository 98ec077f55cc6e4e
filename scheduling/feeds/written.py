"""A calendar in the form that was asked for, with the addresses of the pages that tell more."""

from __future__ import annotations

from dataclasses import replace

from django.urls import reverse

from scheduling.ical.event import CalendarEvent, CalendarFile, Link
from scheduling.ical.free_busy import free_busy_bytes
from scheduling.ical.writer import calendar_bytes, jcal_text
from scheduling.models import FeedForm, FeedKey
from scheduling.selectors.feed_links import Rolling


def written(rolling: Rolling, link: FeedKey, form: FeedForm, base: str) -> bytes:
    """What a link shows. Its free and busy hours say neither what for nor where."""
    if form == FeedForm.FREE_BUSY:
        window = rolling.window
        uid = str(link.uid)
        return free_busy_bytes(rolling.file, uid=uid, from_at=window.from_at, to_at=window.to_at)
    if form == FeedForm.JCAL:
        return jcal_text(_at_home(rolling.file, base), _addresses(base)).encode()
    return plain(rolling.file, base)


def plain(file: CalendarFile, base: str) -> bytes:
    """A file as iCalendar."""
    return calendar_bytes(_at_home(file, base), _addresses(base))


def _at_home(file: CalendarFile, base: str) -> CalendarFile:
    return replace(file, url=base + reverse("week"))


def _addresses(base: str) -> Link:
    def address(event: CalendarEvent) -> str:
        name, *args = event.page
        return base + reverse(name, args=args)

    return address
