"""The audit for the manager: who did what, to what, when, and from which face."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from scheduling.models import AuditEntry
from scheduling.selectors.audit import audited_by, entries_at, kinds_at
from scheduling.services.audit import require_reader
from scheduling.web.access import permitted, person_of, studio_named
from scheduling.web.audit_form import AuditForm
from scheduling.web.csv_file import csv_file
from scheduling.web.lists import zones_of
from studios.models import Studio

ON_A_PAGE = 50
# What has a page of its own, by the name of its address.
PAGES = {"session": "session", "firing": "firing", "calibration": "calibration", "equipment": "equipment"}
HEAD = ("at", "who", "from", "did", "kind", "subject", "what")


@login_required
@require_safe
def audit(request: HttpRequest) -> HttpResponse:
    """What was done at one studio: all of it, or of a day, of a kind, of one thing; the newest first."""
    studio, studios = _studios(request)
    form = AuditForm(request.GET, kinds=kinds_at(studio))
    page = Paginator(_found(studio, form), ON_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "studio": studio,
        "studios": studios,
        "form": form,
        "page": page,
        "rows": [(entry, _address(entry)) for entry in page],
        "asked": form.asked(studio),
        "subject": form.cleaned_data.get("of") or "",
        "zone": studio.zone,
        "zones": zones_of([studio]),
    }
    return render(request, "web/audit.html", context | _steps(page), status=400 if form.errors else 200)


@login_required
@require_safe
def audit_file(request: HttpRequest) -> HttpResponseBase:
    """The same as a file, all pages of it."""
    studio, _ = _studios(request)
    form = AuditForm(request.GET, kinds=kinds_at(studio))
    rows = _found(studio, form)
    if form.errors:
        raise Http404
    return csv_file(f"audit-{studio.slug}.csv", HEAD, _cells(studio, rows))


def _studios(request: HttpRequest) -> tuple[Studio, list[Studio]]:
    """The studio that is asked for, or the first, and all that one may ask for."""
    person = person_of(request)
    with permitted():
        require_reader(person)
    studios = audited_by(person)
    asked = request.GET.get("studio", "")
    studio = studio_named(asked, studios) if asked else studios[0]
    if studio is None:
        raise Http404
    return studio, list(studios)


def _found(studio: Studio, form: AuditForm) -> QuerySet[AuditEntry]:
    if not form.is_valid():
        return AuditEntry.objects.none()
    given = form.cleaned_data
    return entries_at(studio, day=given["day"], kind=given["kind"], subject=given["of"])


def _address(entry: AuditEntry) -> str:
    name = PAGES.get(entry.kind)
    return reverse(name, args=[entry.subject]) if name else ""


def _steps(page: Page[AuditEntry]) -> dict[str, Any]:
    return {
        "newer": page.previous_page_number() if page.has_previous() else None,
        "older": page.next_page_number() if page.has_next() else None,
    }


def _cells(studio: Studio, entries: QuerySet[AuditEntry]) -> Iterator[tuple[object, ...]]:
    """Moments by the studio's clock with their offset, to the second."""
    for entry in entries.iterator():
        who = entry.actor.name if entry.actor else ""
        at = entry.at.astimezone(studio.zone).isoformat(timespec="seconds")
        yield at, who, entry.face, entry.did, entry.kind, entry.subject, entry.said
