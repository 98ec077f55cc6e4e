"""The roster of a class: to read, to print, and as a file."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from scheduling.selectors.evening import evening_of
from scheduling.selectors.roster import Roster, RosterLine, RosterWaiting, roster_of
from scheduling.web.access import person_of
from scheduling.web.csv_file import csv_file
from scheduling.web.round_lines import title_of
from scheduling.wording import amount, say

HEAD = (_("place"), _("torch"), _("name"), _("email"), _("note"), _("price"), _("paid"), _("safety text"))


@login_required
@require_safe
def roster(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Who sits where, what each has written and read and paid, and who waits behind."""
    found = _roster(request, uid)
    session = found.session
    evening = evening_of(session)
    context = {
        "roster": found,
        "evening": evening,
        "before": [(duty.at, title_of(duty)) for duty in evening.before],
        "after": [(duty.at, title_of(duty)) for duty in evening.after],
        "session": session,
        "studio": session.studio,
        "zone": session.studio.zone,
        "back": session.uid,
    }
    return render(request, "web/roster.html", context)


@login_required
@require_safe
def roster_file(request: HttpRequest, uid: UUID) -> HttpResponseBase:
    """The same for a spreadsheet, in its reader's language; who waits follows who comes."""
    found = _roster(request, uid)
    session = found.session
    day = session.starts_at.astimezone(session.studio.zone).date()
    return csv_file(
        f"roster-{session.course.slug}-{day}.csv", [str(name) for name in HEAD], list(_rows(found))
    )


def _roster(request: HttpRequest, uid: UUID) -> Roster:
    found = roster_of(uid=uid, person=person_of(request))
    if found is None:
        raise Http404
    return found


def _rows(found: Roster) -> Iterator[tuple[object, ...]]:
    yield from map(_line, found.lines)
    yield from map(_waiting, found.waiting)


def _line(line: RosterLine) -> tuple[object, ...]:
    seat = line.seat
    price = "" if seat.price is None else amount(seat.price, seat.studio)
    paid = gettext("paid") if seat.paid_at else gettext("not paid") if seat.price else ""
    read = "" if line.safety_read is None else gettext("read") if line.safety_read else gettext("not read")
    torch = seat.torch.number if seat.torch else ""
    return (
        say("seat {number}", number=seat.number),
        torch,
        seat.person.name,
        line.email,
        seat.note,
        price,
        paid,
        read,
    )


def _waiting(one: RosterWaiting) -> tuple[object, ...]:
    return say("waiting {number}", number=one.number), "", one.place.person.name, one.email, "", "", "", ""
