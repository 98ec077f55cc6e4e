"""The day's round: what is hot, what is to be done, each with a tick and a place for what really happened."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from urllib.parse import urlencode
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from scheduling.engine.clock import DAY
from scheduling.models import Tick
from scheduling.selectors.hot import Hot
from scheduling.selectors.pick_up import firings_handed_out_by
from scheduling.selectors.round import day_round
from scheduling.services.actuals import record_actual
from scheduling.services.ticks import require_ticker, take_back, tick_duty
from scheduling.web.access import person_of, studio_named
from scheduling.web.forms import PlainForm
from scheduling.web.round_forms import HappenedForm, TickForm
from scheduling.web.round_lines import HAPPENED, RECORDED_AS, anchor_of, shown
from scheduling.web.weeks import FIRST, LAST
from scheduling.wording import now_said, temperature_unit
from studios.errors import LehrbookError
from studios.models import Studio
from studios.selectors import may, studios_where


@login_required
@require_safe
def round_of(request: HttpRequest) -> HttpResponse:
    """The round of a day at one studio: today at the first of one's own, unless another is chosen."""
    studio = _studio(request, request.GET.get("studio", ""))
    return _shown(request, studio, _day(request.GET.get("day", "")), {})


@login_required
@require_POST
def tick(request: HttpRequest, slug: str) -> HttpResponse:
    """A duty is ticked; with it, what happened is recorded, where that was pressed."""
    studio = _studio(request, slug)
    form = TickForm(request.POST, studio=studio)
    what = form.what() if form.is_valid() else None
    key = form.duties[0] if form.duties else ""
    if what is not None:
        try:
            ticked = tick_duty(actor=person_of(request), studio=studio, **what)
        except LehrbookError as error:
            form.refuse(error)
        else:
            for caution in ticked.cautions:
                messages.warning(request, now_said(caution))
            return _back(request, studio, key)
    return _refused(request, studio, {key: form})


@login_required
@require_POST
def untick(request: HttpRequest, slug: str) -> HttpResponse:
    """A tick by mistake counts no more; what was recorded with it is struck."""
    studio = _studio(request, slug)
    ticks = list(Tick.objects.filter(studio=studio, uid__in=_uids(request)).order_by("pk"))
    if not ticks:
        raise Http404
    try:
        take_back(actor=person_of(request), ticks=ticks)
    except LehrbookError as error:
        messages.error(request, str(error))
    return _back(request, studio, ticks[0].duty)


@login_required
@require_POST
def happened(request: HttpRequest, slug: str) -> HttpResponse:
    """What happened at something hot is recorded, and its firing is worked out anew."""
    studio = _studio(request, slug)
    firings = firings_handed_out_by(person_of(request)).filter(equipment__studio=studio)
    firing = get_object_or_404(firings, uid=_uid(request.POST.get("firing", "")))
    form = HappenedForm(request.POST, studio=studio, auto_id=f"id_{firing.uid}_%s")
    what = form.what() if form.is_valid() else None
    if what is not None:
        try:
            recorded = record_actual(actor=person_of(request), firing=firing, **what)
        except LehrbookError as error:
            form.refuse(error)
        else:
            said = {"what": RECORDED_AS[recorded.actual.kind], "where": firing.equipment.name}
            messages.success(request, _("%(where)s: %(what)s, recorded.") % said)
            for caution in recorded.cautions:
                messages.warning(request, now_said(caution))
            return _back(request, studio, request.POST.get("line", "") or f"hot:{firing.uid}")
    return _refused(request, studio, {request.POST.get("line", "") or str(firing.uid): form})


def _studio(request: HttpRequest, slug: str) -> Studio:
    """One of the studios whose round the person goes; a stranger's is not found."""
    studios = studios_where(person_of(request), "tick").order_by("name")
    found = studio_named(slug, studios) if slug else studios.first()
    if found is None and slug and studios.exists():
        raise Http404
    if found is None:
        raise PermissionDenied(_("The round is for whoever works at a studio: technicians, instructors."))
    require_ticker(person_of(request), found)
    return found


def _day(text: str) -> dt.date | None:
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return None
    return min(max(day, FIRST), LAST)


def _uid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError as error:
        raise Http404 from error


def _uids(request: HttpRequest) -> list[UUID]:
    return [_uid(text) for text in request.POST.getlist("tick")]


def _back(request: HttpRequest, studio: Studio, key: str) -> HttpResponseRedirect:
    """Back to where the thumb was."""
    query = {"studio": studio.slug} | ({"day": shown_day} if (shown_day := _shown_day(request)) else {})
    return redirect(f"{reverse('round')}?{urlencode(query)}#{anchor_of(key)}")


def _shown_day(request: HttpRequest) -> dt.date | None:
    """The day of the page from which a form was sent; none: today."""
    return _day(request.POST.get("page", ""))


def _refused(request: HttpRequest, studio: Studio, wrong: Mapping[str, PlainForm]) -> HttpResponse:
    return _shown(request, studio, _shown_day(request), wrong, status=409)


def _shown(
    request: HttpRequest,
    studio: Studio,
    day: dt.date | None,
    wrong: Mapping[str, PlainForm],
    status: int = 200,
) -> HttpResponse:
    person, found = person_of(request), day_round(studio, day)
    refills = may(person, "refill", studio)
    left = list(shown(found, found.left, wrong, refills=refills))
    lines = list(shown(found, found.lines, wrong, refills=refills))
    placed = {each.line.key for each in (*left, *lines)} | {
        str(hot.firing.uid) for hot in found.hot if hot.firing
    }
    context = {
        "round": found,
        "studio": studio,
        "zone": studio.zone,
        "unit": temperature_unit(studio),
        "studios": studios_where(person, "tick").order_by("name"),
        "left": left,
        "lines": lines,
        "hot": [_hot(one, studio, wrong) for one in found.hot],
        "strays": [form for key, form in wrong.items() if key not in placed],
        "before": found.day - DAY,
        "after": found.day + DAY,
        "page": "" if found.is_today else found.day,
        "happens": HAPPENED,
        "repairs": studio.equipment.filter(active=True) if may(person, "enter-outage", studio) else (),
    }
    return render(request, "web/round.html", context, status=status)


def _hot(one: Hot, studio: Studio, wrong: Mapping[str, PlainForm]) -> dict[str, object]:
    """Something hot, with the form for what is read at it."""
    if one.firing is None:
        return {"at": one}
    key = str(one.firing.uid)
    form = wrong.get(key) or HappenedForm(studio=studio, auto_id=f"id_{key}_%s")
    return {"at": one, "form": form, "refused": key in wrong, "anchor": anchor_of(f"hot:{key}")}
