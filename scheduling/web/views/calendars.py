"""A person's secret calendar links, and a week, a month or a term as a file."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.ical.event import EventKind
from scheduling.models import About, FeedForm, FeedKey
from scheduling.selectors.calendar import home_zone, terms_ahead
from scheduling.selectors.feed_links import KINDS, PLURAL, links_of, may_follow, place_of_link
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from scheduling.web.access import person_of
from scheduling.web.calendar_forms import LinkForm, duties_at, rings
from scheduling.web.weeks import week_of
from scheduling.wording import on_day
from studios.errors import LehrbookError
from studios.models import Term


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """The links that stand, a new one, and files to keep."""
    person = person_of(request)
    form = LinkForm(request.POST or None, person=person)
    if request.method == "POST" and form.is_valid():
        try:
            new_feed_key(actor=person, **form.facts())
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, _("The link is made. Whoever has it can read this calendar: keep it to yourself.")
            )
            return redirect("calendars")
    return render(request, "web/calendars.html", _context(request, form), status=400 if form.errors else 200)


@login_required
@require_POST
def withdraw(request: HttpRequest, uid: UUID) -> HttpResponse:
    """From now on the link shows nothing."""
    person = person_of(request)
    key = get_object_or_404(FeedKey, uid=uid, person=person)
    withdraw_feed_key(actor=person, feed_key=key)
    messages.success(request, _("The link for %(label)s is withdrawn.") % {"label": key.label})
    return redirect("calendars")


def _context(request: HttpRequest, form: LinkForm) -> dict[str, object]:
    person = person_of(request)
    zone = home_zone(person)
    today = timezone.now().astimezone(zone).date()
    return {
        "form": form,
        "links": [_link(request, key) for key in links_of(person)],
        "zone": zone,
        "weeks": [_week_file(today + dt.timedelta(weeks=n)) for n in range(4)],
        "months": [_month_file(_month_ahead(today, n)) for n in range(3)],
        "terms": [_term_file(term) for term in terms_ahead(person, today)],
    }


def _link(request: HttpRequest, key: FeedKey) -> dict[str, object]:
    others = {_("The same as JSON"): FeedForm.JCAL, _("Only the hours that are taken"): FeedForm.FREE_BUSY}
    return {
        "key": key,
        "address": request.build_absolute_uri(reverse("feed", kwargs={"key": key.key})),
        "others": {
            name: reverse("feed-form", kwargs={"key": key.key, "form": form}) for name, form in others.items()
        },
        "said": _said(key),
        "last_read": on_day(key.last_used_on) if key.last_used_on else "",
        "void": not may_follow(person_of(request), About(key.about), place_of_link(key)),
    }


def _said(key: FeedKey) -> str:
    """About your week; only classes, duties; a duty rings 30 min before."""
    said = [_("About %(what)s") % {"what": _about(key)}]
    if key.shows:
        said.append(
            _("only %(kinds)s") % {"kinds": ", ".join(_(PLURAL[EventKind(kind)]) for kind in key.shows)}
        )
    if key.alarm_min is not None and EventKind.DUTY in (key.shows or KINDS[About(key.about)]):
        said.append(_("a duty rings %(when)s") % {"when": rings(key.alarm_min)})
    return f"{'; '.join(said)}."


def _about(key: FeedKey) -> str:
    if key.equipment:
        return _("%(what)s at %(studio)s") % {"what": key.equipment.name, "studio": key.equipment.studio.name}
    if key.studio is None:
        return _("your week")
    return duties_at(key.studio) if key.about == About.DUTIES else key.studio.name


def _week_file(day: dt.date) -> dict[str, str]:
    year, week, _ = day.isocalendar()
    return {
        "name": week_of(day).short_label,
        "address": reverse("week-file", kwargs={"year": year, "week": week}),
    }


def _month_ahead(day: dt.date, months: int) -> dt.date:
    later = day.month - 1 + months
    return dt.date(day.year + later // 12, later % 12 + 1, 1)


def _month_file(first: dt.date) -> dict[str, str]:
    address = reverse("month-file", kwargs={"year": first.year, "month": first.month})
    return {"name": date_format(first, "F Y"), "address": address}


def _term_file(term: Term) -> dict[str, str]:
    address = reverse("term-file", kwargs={"studio": term.studio.slug, "number": term.pk})
    name = _("%(what)s at %(studio)s") % {"what": term.name, "studio": term.studio.name}
    return {"name": name, "address": address}
