"""Washing a further shelf for what is added to a firing; others may come to stand on it, and stay."""

from __future__ import annotations

from django.utils import timezone

from scheduling.engine.clock import moment
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.spans import Span
from scheduling.models import JobStep, KilnJob, Load


def book_wash(load: Load, span: Span, *, pieces: int) -> JobStep:
    """Somebody washes a shelf for so many pieces of a load, at hours at which somebody is there."""
    if load.job is None:
        raise ValueError("a shelf is washed for a kiln job")
    return JobStep.objects.create(
        job=load.job,
        load=load,
        does=Handwork.WASH_SHELVES.value,
        studio=load.firing.equipment.studio,
        starts_at=moment(span[0]),
        ends_at=moment(span[1]),
        pieces=pieces,
    )


def hand_washes_on(job: KilnJob) -> None:
    """A job leaves its firings: a shelf that pieces of others stand on is washed for them."""
    steps = job.steps.filter(does=Handwork.WASH_SHELVES, done_at__isnull=True, starts_at__gt=timezone.now())
    for step in steps.select_related("load"):
        heir = _beside(step.load) if step.load is not None else None
        if heir is not None:
            step.job, step.load = heir.job or job, heir
            step.save(update_fields=["job", "load"])


def _beside(load: Load) -> Load | None:
    """The first load of another kiln job on a shelf that this one stands on."""
    levels = load.stands.filter(level__isnull=False).values("level")
    others = Load.objects.filter(firing=load.firing_id, job__isnull=False, stands__level__in=levels)
    return others.exclude(job=load.job_id).select_related("job").order_by("pk").first()
