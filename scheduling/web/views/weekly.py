"""A weekly class: times that work every week, what each meeting holds, and all of it booked at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from urllib.parse import urlencode

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from scheduling.errors import InvalidInput
from scheduling.selectors.offers import SeriesFound, TimesLine, weekly_times
from scheduling.services.series import book_series
from scheduling.web.access import person_of
from scheduling.web.lists import zones_of
from scheduling.web.shown import legend, paints, shown
from scheduling.web.views.booking import bookable_studios, instructors_for
from scheduling.web.weekly_form import WeeklyForm, days_sent
from scheduling.web.wishes import weekly_wish
from studios.errors import LehrbookError
from studios.models import Person, Studio

QUARTER_MIN = 15


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def weekly(request: HttpRequest) -> HttpResponse:
    """The wish is in the address; what it shows is booked as a whole by a POST to the same."""
    person = person_of(request)
    studios = bookable_studios(person)
    if not studios.exists():
        raise PermissionDenied(_("Classes are booked by instructors and managers; ask the studio's manager."))
    asked = request.method == "POST"
    wish = request.GET if asked else weekly_wish(request.GET, person, list(studios))
    form = _form(wish, person, studios, asked=asked)
    shared = {"form": form, "wish": wish, "paints": paints()}
    if request.method == "POST":
        try:
            return _booked(request, person, form)
        except LehrbookError as error:
            form.refuse(error)
            return render(request, "web/weekly.html", {**shared, "refused_now": True}, status=409)
    return render(request, "web/weekly.html", {**shared, **_found(wish, form)})


def _form(wish: QueryDict, person: Person, studios: QuerySet[Studio], *, asked: bool) -> WeeklyForm:
    """Asked where a course is named; else only filled in."""
    instructors = instructors_for(person, studios)
    if asked or "course" in wish:
        return WeeklyForm(wish, studios=studios, instructors=instructors)
    return WeeklyForm(initial=wish.dict(), studios=studios, instructors=instructors)


def _found(wish: QueryDict, form: WeeklyForm) -> dict[str, object]:
    if not form.is_bound or not form.is_valid():
        return {}
    given = form.cleaned_data
    skipped, proposed = form.skipped()
    try:
        found = weekly_times(
            course=given["course"],
            studio=given["studio"],
            instructor=given["instructor"],
            first_day=given["first_day"],
            weeks=given["weeks"],
            skipped=skipped,
            time=given["time"],
            over_by=given["over_by"],
        )
    except LehrbookError as error:
        form.refuse(error)
        return {}
    form.offer_skips(sorted({*found.days, *skipped}), proposed)
    meetings = [] if found.refused else [shown(meeting) for meeting in found.meetings]
    asked = _asked_again(wish, skipped, form.data["proposed"])
    return {
        "found": found,
        "meetings": meetings,
        "legend": legend(meetings),
        "without_refused": _address(asked, given["time"], [day for day, _refused in _spoilt(found)]),
        "time": given["time"],
        "refused": [(one, _address(asked, given["time"], [day])) for day, one in _spoilt(found)],
        "times": [_line(line, given["time"], asked) for line in found.times],
        "spoilt": [_line(line, given["time"], asked) for line in found.spoilt],
        "zones": zones_of([given["studio"]]),
    }


def _spoilt(found: SeriesFound) -> Iterable[tuple[dt.date, object]]:
    """The weeks that cannot have the time, each by its day."""
    zone = found.studio.zone
    kept = {meeting.starts_at.astimezone(zone).date() for meeting in found.meetings}
    return zip([day for day in found.days if day not in kept], found.refused, strict=True)


def _line(line: TimesLine, wished: dt.time, asked: QueryDict) -> dict[str, object]:
    """A stretch of times with the few of it that are offered by a click; any other can be typed."""
    picks = [(time, _address(asked, time, line.spoilt_by)) for time in _picks(line, wished)]
    return {"line": line, "one": line.first == line.last, "picks": picks}


def _picks(line: TimesLine, wished: dt.time) -> list[dt.time]:
    """The time wished where the stretch has it, and its ends, on a quarter of an hour if it can be."""
    first, last = (time.hour * 60 + time.minute for time in (line.first, line.last))
    up, down = first + -first % QUARTER_MIN, last - last % QUARTER_MIN
    ends = {up, down} if up <= down else {first}
    wish = wished.hour * 60 + wished.minute
    inside = {wish} if first <= wish <= last else set()
    return [dt.time(*divmod(minute, 60)) for minute in sorted(ends | inside)]


def _asked_again(wish: QueryDict, skipped: Sequence[dt.date], proposed: str) -> QueryDict:
    """The wish as an address with the days that are left out now."""
    asked = wish.copy()
    asked.setlist("skip", [str(day) for day in skipped])
    asked["proposed"] = proposed
    return asked


def _address(asked: QueryDict, time: dt.time, left_out: Iterable[dt.date]) -> str:
    """The same wish at another time, some weeks left out."""
    fields = {name: asked.getlist(name) for name in asked}
    fields["time"] = [f"{time:%H:%M}"]
    fields["skip"] = [*asked.getlist("skip"), *(str(day) for day in left_out)]
    return f"?{urlencode(fields, doseq=True)}"


def _booked(request: HttpRequest, person: Person, form: WeeklyForm) -> HttpResponse:
    days = days_sent(request.POST.getlist("day"))
    if not form.is_bound or not form.is_valid() or days is None:
        raise InvalidInput(problem=_("The wish could not be read any more; ask again."))
    given = form.cleaned_data
    series = book_series(
        actor=person,
        course=given["course"],
        studio=given["studio"],
        instructor=given["instructor"],
        days=days,
        time=given["time"],
    )
    meetings = list(series.sessions.order_by("starts_at"))
    said = ngettext(
        "%(course)s is booked: %(number)d meeting.",
        "%(course)s is booked: %(number)d meetings.",
        len(meetings),
    )
    messages.success(request, said % {"course": series.course, "number": len(meetings)})
    return redirect("session", uid=meetings[0].uid)
