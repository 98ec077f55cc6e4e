"""The calendars that whoever teaches keeps elsewhere: given, looked at, read again, taken away."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.models import OtherCalendar
from scheduling.selectors.calendar import home_of
from scheduling.selectors.other_calendars import clashing, host_of, may_keep, with_busy_time
from scheduling.services.other_calendars import (
    MOST_CALENDARS,
    add_file,
    add_link,
    read_again,
    read_file,
    remove,
)
from scheduling.web.access import person_of
from scheduling.web.other_calendar_forms import CalendarFileForm, CalendarLinkForm
from scheduling.wording import say
from studios.errors import LehrbookError
from studios.models import Person

LINK_IDS, FILE_IDS = "link_%s", "file_%s"


@login_required
@require_http_methods(["GET", "HEAD"])
def other_calendars(request: HttpRequest) -> HttpResponse:
    """What is known of each, and what they meet."""
    _keeper(request)
    return _shown(request)


@login_required
@require_POST
def give_link(request: HttpRequest) -> HttpResponse:
    """A calendar that is fetched, by a worker and not now."""
    person, form = _keeper(request), CalendarLinkForm(request.POST, auto_id=LINK_IDS)
    if form.is_valid():
        try:
            given = add_link(actor=person, **form.cleaned_data)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, say("{given} is kept. It is fetched within a minute or two.", given=given.label)
            )
            return redirect("other-calendars")
    return _shown(request, link_form=form)


@login_required
@require_POST
def give_file(request: HttpRequest) -> HttpResponse:
    """A calendar as it was saved, read now: whole or not at all."""
    person, form = _keeper(request), CalendarFileForm(request.POST, request.FILES, auto_id=FILE_IDS)
    if form.is_valid():
        try:
            reading = read_file(actor=person, content=form.cleaned_data["file"].read())
            given = add_file(actor=person, label=form.cleaned_data["label"], reading=reading)
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, say("{given} is read. Its hours are kept free of classes.", given=given.label)
            )
            return redirect("other-calendars")
    return _shown(request, file_form=form)


@login_required
@require_POST
def have_read(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Read it again by the next round."""
    person = person_of(request)
    calendar = read_again(actor=person, calendar=_own(person, uid))
    messages.success(
        request, say("{calendar} is read again within a minute or two.", calendar=calendar.label)
    )
    return redirect("other-calendars")


@login_required
@require_POST
def take_away(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Its hours are free again."""
    person = person_of(request)
    calendar = _own(person, uid)
    remove(actor=person, calendar=calendar)
    messages.success(
        request, say("{calendar} is taken away, and its hours are free again.", calendar=calendar.label)
    )
    return redirect("other-calendars" if may_keep(person) else "calendars")


def _keeper(request: HttpRequest) -> Person:
    """Whoever keeps other calendars here, or still has one."""
    person = person_of(request)
    if not may_keep(person) and not person.other_calendars.exists():
        raise PermissionDenied(gettext("Other calendars are for those who teach at a studio."))
    return person


def _own(person: Person, uid: UUID) -> OtherCalendar:
    return get_object_or_404(OtherCalendar, uid=uid, person=person)


def _shown(
    request: HttpRequest,
    link_form: CalendarLinkForm | None = None,
    file_form: CalendarFileForm | None = None,
) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    home, rows = home_of(person), with_busy_time(person.other_calendars.all(), now)
    context = {
        "calendars": [(row, host_of(row), round(row.busy.total_seconds() / 60)) for row in rows],  # type: ignore[attr-defined]  # annotated
        "clashing": clashing(person, now),
        "now": now,
        "home": home,
        "zone": home.zone if home else timezone.get_default_timezone(),
        "most": MOST_CALENDARS,
        "link_form": link_form or CalendarLinkForm(auto_id=LINK_IDS),
        "file_form": file_form or CalendarFileForm(auto_id=FILE_IDS),
    }
    return render(request, "web/other_calendars.html", context, status=400 if link_form or file_form else 200)
