"""Sheets of labels: of a kiln job, or of a class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from uuid import UUID

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from scheduling.models import Piece
from scheduling.selectors.pieces import studios_fired_at
from scheduling.web.views.class_pieces import class_of
from scheduling.web.views.kiln_jobs.common import job_minded, pieces_of
from scheduling.wording import meeting


@login_required
@require_safe
def job_labels(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One for each piece of a job: with the studio that fires it, once that is known."""
    job = job_minded(request, uid)
    pieces, anywhere = pieces_of(job), " / ".join(studio.name for studio in job.studios.all())
    names, fired_at = {studio.pk: studio.name for studio in job.studios.all()}, studios_fired_at(pieces)
    where = {piece.pk: names.get(fired_at.get(piece.pk, 0), anywhere) for piece in pieces}
    back = reverse("kiln-jobs-job", args=[uid])
    return _sheet(request, pieces, title=job.title, where=where, back=back)


@login_required
@require_safe
def class_labels(request: HttpRequest, uid: UUID) -> HttpResponse:
    """One for each piece that is listed of a class."""
    session = class_of(request, uid)
    pieces = list(session.pieces.select_related("maker").order_by("number"))
    where = dict.fromkeys((piece.pk for piece in pieces), meeting(session))
    back = reverse("class-pieces", args=[uid])
    return _sheet(request, pieces, title=session.course.name, where=where, back=back)


def _sheet(
    request: HttpRequest, pieces: Sequence[Piece], *, title: str, where: Mapping[int, str], back: str
) -> HttpResponse:
    labels = [(piece, where[piece.pk]) for piece in pieces]
    context = {"labels": labels, "title": title, "back": back}
    return render(request, "web/labels.html", context)
