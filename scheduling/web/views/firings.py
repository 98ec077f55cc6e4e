"""A firing: its curve, the program to key in, the loads in it."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_safe

from scheduling.engine.clock import floor_minutes
from scheduling.selectors.firings import FiringPage, firing_page
from scheduling.web.access import person_of, viewer_for
from scheduling.web.drawing import marks
from scheduling.web.drawing.firing import HEIGHTS, draw

# Gardon & Narayanaswamy, J. Am. Ceram. Soc. 53 (1970) 380: sheet cooled at a steady rate keeps more than the
# classical formula says; the classical figure is about this share of it.
CLASSICAL_SHARE = 0.6


@login_required
@require_safe
def firing(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One run of a kiln or annealer, door closed to door open."""
    page = firing_page(uid=uid, person=person_of(request), viewer=viewer_for(request))
    if page is None:
        raise Http404
    studio = page.firing.equipment.studio
    context = {
        "page": page,
        "firing": page.firing,
        "studio": studio,
        "zone": studio.zone,
        "real_stress_mpa": page.firing.kept_stress_mpa / CLASSICAL_SHARE,
        "legend": _legend(page),
        "definitions": mark_safe(marks.definitions(HEIGHTS)),  # noqa: S308 - our own drawing
    }
    if page.stands:
        context["drawing"] = mark_safe(draw(page, now=floor_minutes(timezone.now())))  # noqa: S308 - escaped there
    return render(request, "web/firing.html", context)


def _legend(page: FiringPage) -> list[tuple[str, str, str]]:
    shown = {phase.kind for phase in page.phases}
    return [
        (mark_safe(marks.swatch(kind)), kind.value, marks.SAID[kind])  # noqa: S308 - our own drawing
        for kind in marks.MARKS
        if kind in shown
    ]
