"""A person's secret calendar links, and the week as a file."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.models import FeedKey
from scheduling.services.calendars import new_feed_key, withdraw_feed_key
from scheduling.web.access import person_of
from scheduling.web.forms import LabelForm
from scheduling.web.weeks import week_of
from studios.errors import LehrbookError
from studios.selectors import studios_of


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def calendars(request: HttpRequest) -> HttpResponse:
    """The links that stand, and a new one."""
    form = LabelForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            new_feed_key(actor=person_of(request), label=form.cleaned_data["label"])
        except LehrbookError as error:
            form.refuse(error)
        else:
            messages.success(
                request, "The link is made. Whoever has it can read your calendar: keep it to yourself."
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
    messages.success(request, f"The link for {key.label} is withdrawn.")
    return redirect("calendars")


def _context(request: HttpRequest, form: LabelForm) -> dict[str, object]:
    keys = FeedKey.objects.filter(person=person_of(request), revoked_at__isnull=True)
    links = [
        {"key": key, "address": request.build_absolute_uri(reverse("feed", kwargs={"key": key.key}))}
        for key in keys
    ]
    studio = studios_of(person_of(request)).first()
    zone = studio.zone if studio else dt.UTC
    today = timezone.now().astimezone(zone).date()
    weeks = [_week_file(today + dt.timedelta(weeks=n)) for n in range(4)]
    return {"form": form, "links": links, "weeks": weeks, "zone": zone}


def _week_file(day: dt.date) -> dict[str, str]:
    year, week, _ = day.isocalendar()
    return {
        "name": week_of(day).short_label,
        "address": reverse("week-file", kwargs={"year": year, "week": week}),
    }
