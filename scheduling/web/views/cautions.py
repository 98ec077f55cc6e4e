"""The cautions, and the pages for what goes wrong."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from scheduling.web.cautions import CAUTIONS


@login_required
def cautions(request: HttpRequest) -> HttpResponse:
    """What can hurt somebody, and who decides."""
    return render(request, "web/cautions.html", {"cautions": CAUTIONS})
