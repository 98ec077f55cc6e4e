"""Sheets of labels: of a kiln job, or of a class."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from scheduling.models import Piece
from scheduling.web.views.class_pieces import class_of
from scheduling.web.views.kiln_jobs.common import first_studio, job_minded, pieces_of
from scheduling.wording import meeting


@login_required
@require_safe
def job_labels(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One for each piece of a job."""
    job = job_minded(request, uid)
    where = " / ".join(studio.name for studio in job.studios.all())
    back = reverse("kiln-jobs-job", args=[uid])
    return _sheet(request, pieces_of(job), title=job.title, where=where or str(first_studio(job)), back=back)


@login_required
@require_safe
def class_labels(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One for each piece that is listed of a class."""
    session = class_of(request, uid)
    pieces = list(session.pieces.select_related("maker").order_by("number"))
    back = reverse("class-pieces", args=[uid])
    return _sheet(request, pieces, title=session.course.name, where=meeting(session), back=back)


def _sheet(
    request: HttpRequest, pieces: Sequence[Piece], *, title: str, where: str, back: str
) -> HttpResponse:
    context = {"pieces": pieces, "title": title, "where": where, "back": back}
    return render(request, "web/labels.html", context)
