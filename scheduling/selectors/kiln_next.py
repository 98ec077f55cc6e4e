"""What is to be done next for a kiln job, by whom, where and when; read from what is booked and recorded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from scheduling.models import (
    BookingStatus,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Load,
    Outage,
    Piece,
    PieceState,
)
from studios.models import Studio


class Next(StrEnum):
    """What is to be done next."""

    SEEK = "seek"
    ARRIVE = "arrive"
    HANDWORK = "handwork"
    LOAD = "load"
    UNLOAD = "unload"
    ANNEAL_AGAIN = "anneal-again"
    HAND_OVER = "hand-over"
    NOTHING = "nothing"


@dataclass(frozen=True, kw_only=True)
class NextDuty:
    """One duty of a kiln job. `what` is what it is done to: a kiln, or the handwork by its name."""

    does: Next
    at: dt.datetime | None = None
    studio: Studio | None = None
    what: str = ""
    load: Load | None = None
    step: JobStep | None = None


@dataclass(frozen=True, kw_only=True)
class JobLine:
    """A kiln job in a list: how many pieces, how many of them are ready, and what comes next."""

    job: KilnJob
    pieces: int
    ready: int
    next: NextDuty


def job_lines(jobs: QuerySet[KilnJob], most: int) -> list[JobLine]:
    """Kiln jobs with what is next for each; as many as `most`."""
    loads = Load.objects.select_related("firing__equipment__studio").order_by("in_from", "pk")
    steps = JobStep.objects.select_related("studio").order_by("starts_at", "pk")
    rows = jobs.annotate(
        piece_count=Count("pieces", distinct=True),
        ready_count=Count("pieces", filter=Q(pieces__state=PieceState.READY), distinct=True),
        expected_count=Count("pieces", filter=Q(pieces__state=PieceState.EXPECTED), distinct=True),
    ).prefetch_related(Prefetch("loads", queryset=loads), Prefetch("steps", queryset=steps))
    return [
        JobLine(
            job=job,
            pieces=job.piece_count,
            ready=job.ready_count,
            next=_next(job, expected=job.expected_count, ready=job.ready_count),
        )
        for job in rows[:most]
    ]


def next_of(job: KilnJob, pieces: Sequence[Piece]) -> NextDuty:
    """What is next for one kiln job, whose pieces are at hand."""
    states = [piece.state for piece in pieces]
    return _next(job, expected=states.count(PieceState.EXPECTED), ready=states.count(PieceState.READY))


def _next(job: KilnJob, *, expected: int, ready: int) -> NextDuty:
    if job.status == KilnJobStatus.ASKED:
        return NextDuty(does=Next.SEEK)
    if job.status != KilnJobStatus.BOOKED:
        return NextDuty(does=Next.NOTHING)
    loads = [load for load in job.loads.all() if load.firing.status == BookingStatus.BOOKED]
    arrival = [NextDuty(does=Next.ARRIVE, at=job.arrives_at)] if expected else []
    due = [*arrival, *_firings(loads), *_handwork(job.steps.all())]
    if due:
        return min(due, key=lambda one: one.at or job.arrives_at)
    if ready:
        last = loads[-1].firing.equipment.studio if loads else None
        return NextDuty(does=Next.HAND_OVER, at=job.ready_at, studio=last)
    return NextDuty(does=Next.NOTHING)


def _firings(loads: Iterable[Load]) -> Iterator[NextDuty]:
    """Of each load that is not out yet: to be put in, or to be taken out."""
    for load in loads:
        firing = load.firing
        if firing.unloaded_at is not None:
            continue
        where = {"studio": firing.equipment.studio, "what": firing.equipment.name, "load": load}
        if firing.broken_at is not None:
            yield NextDuty(does=Next.ANNEAL_AGAIN, at=firing.broken_at, **where)  # type: ignore[arg-type]
        elif load.in_from <= timezone.now():
            yield NextDuty(does=Next.UNLOAD, at=firing.unload_at, **where)  # type: ignore[arg-type]
        else:
            begins = load.in_from - dt.timedelta(minutes=firing.equipment.prepare_min)
            yield NextDuty(does=Next.LOAD, at=begins, **where)  # type: ignore[arg-type]


def _handwork(steps: Iterable[JobStep]) -> Iterator[NextDuty]:
    for step in steps:
        if step.done_at is None:
            yield NextDuty(
                does=Next.HANDWORK, at=step.starts_at, studio=step.studio, what=step.does, step=step
            )


def in_the_way(job: KilnJob) -> bool:
    """A firing of it broke off, or what it is booked in is out of use then."""
    broken = Q(firing__broken_at__isnull=False, firing__unloaded_at__isnull=True)
    closed = Outage.objects.filter(
        equipment=OuterRef("equipment"), starts_at__lt=OuterRef("ends_at"), ends_at__gt=OuterRef("starts_at")
    )
    if job.steps.filter(Exists(closed), done_at__isnull=True, starts_at__gt=timezone.now()).exists():
        return True
    down = Outage.objects.filter(
        equipment=OuterRef("firing__equipment"),
        starts_at__lt=OuterRef("firing__unload_at"),
        ends_at__gt=OuterRef("in_from"),
    )
    waiting = job.loads.filter(firing__unloaded_at__isnull=True)
    return waiting.filter(broken | Q(Exists(down))).exists()
