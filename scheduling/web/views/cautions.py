"""The cautions, and the pages for what goes wrong."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from scheduling.web.cautions import CAUTIONS


@require_safe
def cautions(request: HttpRequest) -> HttpResponse:
    """What can hurt somebody, and who decides: for everybody, signed in or not."""
    return render(request, "web/cautions.html", {"cautions": CAUTIONS})
