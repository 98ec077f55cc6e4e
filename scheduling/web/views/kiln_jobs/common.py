"""What the pages of kiln jobs share: whose job it is, and what a service refuses."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest

from scheduling.models import KilnAnswer, KilnJob, Piece
from scheduling.selectors.kiln_jobs import jobs_minded_by, jobs_seen_by
from scheduling.web.access import person_of
from studios.models import Studio


def job_seen(request: HttpRequest, uid: UUID) -> KilnJob:
    """A job that the person may see; any other is not found."""
    job = jobs_seen_by(person_of(request)).filter(uid=uid).first()
    if job is None:
        raise Http404
    return job


def job_minded(request: HttpRequest, uid: UUID) -> KilnJob:
    """A job that the person owns or minds; any other is not found."""
    job = jobs_minded_by(person_of(request)).filter(uid=uid).first()
    if job is None:
        raise Http404
    return job


def answer_minded(request: HttpRequest, uid: UUID) -> KilnAnswer:
    """An answer for a job that the person owns or minds."""
    minded = jobs_minded_by(person_of(request)).order_by().values("pk")
    answer = KilnAnswer.objects.filter(uid=uid, job__in=minded)
    found = answer.select_related("job__glass", "job__owner", "asked_by").first()
    if found is None:
        raise Http404
    return found


def first_studio(job: KilnJob) -> Studio:
    """By whose clock and in whose units a job is read."""
    return job.studios.all()[0]


def pieces_of(job: KilnJob) -> list[Piece]:
    """Its pieces with whose they are and how large, in their order."""
    rows = job.pieces.select_related("maker", "size__mould", "job__owner", "handed_by")
    return list(rows.order_by("number", "pk"))
