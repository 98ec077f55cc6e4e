"""A firing: its curve, the program to key in, the loads in it."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_POST, require_safe

from scheduling.engine.clock import floor_minutes
from scheduling.models import ActualKind, PickUp
from scheduling.selectors.actuals import actuals_of, actuals_seen_by
from scheduling.selectors.firings import FiringPage, firing_page
from scheduling.services.actuals import Recorded, record_actual, strike_actual
from scheduling.services.reaching import breaks_of
from scheduling.services.recomputing import cautions_of
from scheduling.web.access import person_of, viewer_for
from scheduling.web.actual_forms import ActualForm
from scheduling.web.drawing import marks
from scheduling.web.drawing.firing import HEIGHTS, draw
from studios.errors import LehrbookError
from studios.models import Person
from studios.selectors import may

# Gardon & Narayanaswamy, J. Am. Ceram. Soc. 53 (1970) 380: sheet cooled at a steady rate keeps more than the
# classical formula says; the classical figure is about this share of it.
CLASSICAL_SHARE = 0.6


@login_required
@require_safe
def firing(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One run of a kiln or annealer, door closed to door open."""
    return _shown(request, _page(request, uid))


@login_required
@require_POST
def record(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What happened is recorded, and the firing is worked out anew."""
    page = _page(request, uid)
    form = ActualForm(request.POST, studio=page.firing.equipment.studio)
    what = form.what() if form.is_valid() else None
    if what is not None:
        try:
            recorded = record_actual(actor=person_of(request), firing=page.firing, **what)
        except LehrbookError as error:
            form.refuse(error)
        else:
            _say(request, f"{recorded.actual.get_kind_display().capitalize()}: recorded.", recorded)
            return redirect("firing", uid=uid)
    return _shown(request, page, form, status=409)


@login_required
@require_POST
def strike(request: HttpRequest, uid: UUID) -> HttpResponse:
    """What was entered by mistake counts no more."""
    actual = get_object_or_404(actuals_seen_by(person_of(request)), uid=uid)
    try:
        struck = strike_actual(actor=person_of(request), actual=actual)
    except LehrbookError as error:
        messages.error(request, str(error))
    else:
        _say(request, f"{actual.get_kind_display().capitalize()}: struck.", struck)
    return redirect("firing", uid=actual.firing.uid)


def _say(request: HttpRequest, done: str, recorded: Recorded) -> None:
    messages.success(request, f"{done} The firing is worked out anew.")
    for caution in recorded.cautions:
        messages.warning(request, caution)


def _page(request: HttpRequest, uid: UUID) -> FiringPage:
    page = firing_page(uid=uid, person=person_of(request), viewer=viewer_for(request))
    if page is None:
        raise Http404
    return page


def _shown(
    request: HttpRequest, page: FiringPage, form: ActualForm | None = None, status: int = 200
) -> HttpResponse:
    studio = page.firing.equipment.studio
    records = page.stands and may(person_of(request), "record-actual", studio)
    context = {
        "page": page,
        "firing": page.firing,
        "studio": studio,
        "zone": studio.zone,
        "real_stress_mpa": page.firing.kept_stress_mpa / CLASSICAL_SHARE,
        "legend": _legend(page),
        "definitions": mark_safe(marks.definitions(HEIGHTS)),  # noqa: S308 - our own drawing
        "recorded": actuals_of(page.firing),
        "pick_ups": PickUp.objects.filter(load__firing=page.firing).select_related("load__session__course"),
        "records": records,
        **(_at_the_kiln(person_of(request), page, form or ActualForm(studio=studio)) if records else {}),
    }
    if page.stands:
        context["drawing"] = mark_safe(draw(page, now=floor_minutes(timezone.now())))  # noqa: S308 - escaped there
    return render(request, "web/firing.html", context, status=status)


def _at_the_kiln(actor: Person, page: FiringPage, form: ActualForm) -> dict[str, Any]:
    """What whoever stands there records, and what it has come to."""
    return {
        "form": form,
        # Return in the field of the temperature presses the first button.
        "kinds": sorted(ActualKind.choices, key=lambda choice: choice[0] != ActualKind.TEMPERATURE),
        "minds": cautions_of(page.firing),
        "breaks": breaks_of(actor=actor, firing=page.firing),
    }


def _legend(page: FiringPage) -> list[tuple[str, str, str]]:
    shown = {phase.kind for phase in page.phases}
    return [
        (mark_safe(marks.swatch(kind)), kind.value, marks.SAID[kind])  # noqa: S308 - our own drawing
        for kind in marks.MARKS
        if kind in shown
    ]
