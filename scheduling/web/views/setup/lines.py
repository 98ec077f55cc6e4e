"""Hours, closed days, terms, seasons and own programs: a list, and its form below."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from scheduling.selectors.set_up import standing_on
from scheduling.services.set_up.rows import drop_line, keep_lines
from scheduling.web.access import person_of
from scheduling.web.setup_lines import LINES, Lines
from scheduling.web.views.setup.common import carried_out, form_page, sent, studio_to_set_up
from studios.models import Closure, Studio


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lines(request: HttpRequest, slug: str, kind: str) -> HttpResponse:
    """All of a kind; the form adds one, or the same on several weekdays."""
    found = _kind(kind)
    studio = studio_to_set_up(request, slug, found.action)
    row = found.model(studio=studio)
    form = found.form(sent(request), instance=row, studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(lambda: keep_lines(actor=actor, lines=form.lines()), form):
        messages.success(request, _("It is added. What is booked already stays as it was booked."))
        return redirect("set-up-lines", slug=slug, kind=kind)
    context = {
        "studio": studio,
        "kind": kind,
        "lines": found,
        "rows": [_shown(found, each) for each in found.rows(studio)],
        "form": form,
    }
    return render(request, "web/setup/lines.html", context, status=400 if form.errors else 200)


def _kind(name: str) -> Lines:
    if name not in LINES:
        raise Http404
    return LINES[name]


def _shown(found: Lines, row: Any) -> dict[str, Any]:
    """A row in words; under closed days the classes that stand on them."""
    standing = list(standing_on(row)) if isinstance(row, Closure) else []
    return {"row": row, "says": found.said(row), "beside": found.beside(row), "standing": standing}


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def line(request: HttpRequest, slug: str, kind: str, key: int) -> HttpResponse:
    """One of them, changed."""
    found = _kind(kind)
    studio = studio_to_set_up(request, slug, found.action)
    row = _row(found, studio, key)
    form = found.form(sent(request), instance=row, studio=studio)
    actor = person_of(request)
    if request.method == "POST" and carried_out(lambda: keep_lines(actor=actor, lines=form.lines()), form):
        messages.success(request, _("It is kept. What is booked already stays as it was booked."))
        return redirect("set-up-lines", slug=slug, kind=kind)
    return form_page(
        request,
        studio,
        [form],
        title=found.said(_row(found, studio, key)),
        lead=found.lead,
        button=_("Keep it"),
        back=(reverse("set-up-lines", args=[slug, kind]), found.title),
    )


def _row(found: Lines, studio: Studio, key: int) -> Any:
    return get_object_or_404(found.rows(studio), pk=key)


@login_required
@require_POST
def drop(request: HttpRequest, slug: str, kind: str, key: int) -> HttpResponse:
    """It holds no longer."""
    found = _kind(kind)
    studio = studio_to_set_up(request, slug, found.action)
    row = _row(found, studio, key)
    drop_line(actor=person_of(request), line=row)
    messages.success(
        request, _("Taken out: %(what)s. What is booked already stays.") % {"what": found.said(row)}
    )
    return redirect("set-up-lines", slug=slug, kind=kind)
