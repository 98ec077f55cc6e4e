"""Kiln jobs that are booked and partly fired, and what is sought and booked for the rest of them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned, from_json
from scheduling.engine.kiln_work.asked import PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.world import World
from scheduling.models import (
    AuditEntry,
    Firing,
    JobStep,
    KilnAnswer,
    KilnJob,
    Message,
    Occupancy,
    Outage,
    Stand,
)
from scheduling.selectors.kiln_work import asked_of
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.open_shelves import add_pieces
from scheduling.services.outages import enter_outage
from studios.models import Equipment
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    load_at,
    planned,
)
from tests.worlds import Town, local


def fused_and_slumped(town: Town, kiln: Equipment, **facts: Any) -> KilnJob:
    """Six dishes: shelves are washed on Tuesday, they are fused that night and slumped from Saturday."""
    job = a_job(town, route="fuse-slump", **facts)
    fuse, slump = load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(5, 18), step=2)
    wash = by_hand(fuse, Handwork.WASH_SHELVES, local(1, 9), 15)
    return booked(job, fuse, slump, actor=town.instructor, handwork=[wash])


def fused(town: Town, kiln: Equipment, at: dt.datetime, **facts: Any) -> KilnJob:
    """Six dishes, fused in one load."""
    job = a_job(town, **facts)
    return booked(job, load_at(job, kiln, at), actor=town.instructor)


def fused_and_worked(town: Town, kiln: Equipment, **facts: Any) -> KilnJob:
    """Six dishes fused from Tuesday; on Friday and on Monday three each are worked at the saw."""
    job = a_job(town, cold_min_each=20, **facts)
    fuse, saw = load_at(job, kiln, local(1, 18)), town.equipment["saw"]
    cold = [
        by_hand(fuse, Handwork.COLD_WORK, local(day, 10), 60, saw, of=of)
        for day, of in ((4, (0, 1, 2)), (7, (3, 4, 5)))
    ]
    return booked(job, fuse, actor=town.instructor, handwork=cold)


def breaks(town: Town, kiln: Equipment, day: int, until: int) -> Outage:
    hours = {"starts_at": local(day, 8), "ends_at": local(until, 8)}
    return enter_outage(actor=town.technician, equipment=kiln, reason="element burnt out", **hours)


def asked(job: KilnJob, **what_if: Any) -> tuple[World, WorkAsked]:
    return asked_of(KilnJob.objects.get(pk=job.pk), what_if)


def stages(job: KilnJob) -> list[PieceAsked]:
    return list(asked(job)[1].pieces)


def sought(town: Town, job: KilnJob, **facts: Any) -> KilnAnswer:
    """What is found for it now; it has a plan."""
    answer = seek(actor=town.instructor, job=KilnJob.objects.get(pk=job.pk), **facts)
    assert answer.plan is not None, answer.refusal
    return answer


def plan_of(answer: KilnAnswer) -> WorkPlanned:
    return from_json(answer.plan or {})


def anew(town: Town, job: KilnJob, *loads: LoadPlanned, handwork: Sequence[HandworkPlanned] = ()) -> KilnJob:
    """A plan that is laid by hand is booked in place of what has not begun."""
    job.refresh_from_db()
    return book(actor=town.instructor, answer=answered(job, planned(*loads, handwork=handwork)))


def held() -> list[tuple[Any, ...]]:
    """Everything that is in the book of it."""
    taken = Occupancy.objects.order_by("pk").values_list("pk", "equipment", "starts_at", "ends_at")
    steps = JobStep.objects.order_by("pk").values_list("pk", "load", "starts_at")
    stands = Stand.objects.order_by("pk").values_list("pk", "load", "piece")
    jobs = KilnJob.objects.order_by("pk").values_list("status", "ready_at", "sequence")
    return [*taken, *steps, *stands, *jobs, (Message.objects.count(), AuditEntry.objects.count())]


def taken_alone(world: World, kiln: Equipment) -> list[int]:
    return [claim.span[0] for claim in world.taken.get(kiln.pk, ()) if not claim.outage]


def add_a_tile(town: Town, firing: Firing) -> KilnJob:
    sizes = [SizeAsked(count=1, length_mm=110, width_mm=80)]
    glass = town.glasses["fusing-90"]
    return add_pieces(actor=town.other_student, firing=firing, sizes=sizes, glass=glass, thickness_mm=6.0)
