"""Kiln jobs as their owners, their makers and the studios see them, and how the search for one stands."""

from __future__ import annotations

import datetime as dt
from enum import StrEnum

from django.db.models import Q, QuerySet
from django.utils import timezone

from scheduling.models import JobStep, KilnAnswer, KilnJob, KilnJobStatus
from studios.models import Person
from studios.selectors import studios_where

# Whoever seeks says so every second; who has said nothing for so long has broken off.
SILENT = dt.timedelta(seconds=30)
MINDED_BY = "book-kiln-job"


def jobs_minded_by(person: Person) -> QuerySet[KilnJob]:
    """One's own kiln jobs, and those of the studios where one books kilns."""
    mine = Q(owner=person) | Q(studios__in=studios_where(person, MINDED_BY).order_by())
    return _jobs().filter(pk__in=KilnJob.objects.filter(mine).order_by().values("pk"))


def jobs_seen_by(person: Person) -> QuerySet[KilnJob]:
    """As `jobs_minded_by`, and those in which there is a piece of one's own."""
    mine = (
        Q(owner=person) | Q(studios__in=studios_where(person, MINDED_BY).order_by()) | Q(pieces__maker=person)
    )
    return _jobs().filter(pk__in=KilnJob.objects.filter(mine).order_by().values("pk"))


def _jobs() -> QuerySet[KilnJob]:
    rows = KilnJob.objects.select_related("owner", "glass").prefetch_related("studios", "sizes__mould")
    return rows.order_by("-created_at", "-pk")


def minds_job(person: Person, job: KilnJob) -> bool:
    """Whether somebody may change a kiln job, seek answers for it, and call it off."""
    return job.owner_id == person.pk or jobs_minded_by(person).filter(pk=job.pk).exists()


def may_book(person: Person, job: KilnJob) -> bool:
    """Whether somebody may book it at one of its studios at least; students ask whoever books there."""
    return job.studios.filter(pk__in=studios_where(person, MINDED_BY).order_by().values("pk")).exists()


def steps_of(job: KilnJob) -> QuerySet[JobStep]:
    """The handwork of a kiln job, in order of time."""
    rows = job.steps.select_related("studio", "equipment", "done_by", "load__firing__equipment")
    return rows.prefetch_related("of").order_by("starts_at", "pk")


class Sought(StrEnum):
    """How the search for an answer stands. The values are sent: never renamed."""

    SEEKING = "seeking"
    FOUND = "found"
    REFUSED = "refused"
    BROKEN_OFF = "broken-off"


def how_it_stands(answer: KilnAnswer) -> Sought:
    """A search that ended has a plan or a refusal; one that has been silent too long has broken off."""
    if answer.ended_at is not None:
        return Sought.FOUND if answer.plan is not None else Sought.REFUSED
    silent = timezone.now() - answer.alive_at
    return Sought.BROKEN_OFF if silent > SILENT else Sought.SEEKING


def stands_still(answer: KilnAnswer) -> bool:
    """Whether a plan may still be booked: nothing of its job is, or it is as it was when this was sought."""
    job = answer.job
    same = job.changed_at <= answer.started_at
    return job.status == KilnJobStatus.ASKED or (job.status == KilnJobStatus.BOOKED and same)
