"""What an outage breaks: each booking that needs the equipment then, and what would repair it.

The listing itself is here; the repair is found by `services.repairing`, in a world without the booking.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.heat import COLD, HOT_STATIONS, has_record, lead_min, lightable
from scheduling.engine.records import Kind
from scheduling.engine.spans import covers
from scheduling.models import Charge, Firing, JobStep, KilnJob, Occupancy, Outage, Seat, Session
from scheduling.selectors.loads import load_title
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import say, when
from studios.models import Equipment


class What(StrEnum):
    """What is broken. The values are sent by the API: they are never renamed lightly."""

    SESSION = "session"
    SEAT = "seat"
    FIRING = "firing"
    CHARGE = "charge"
    HANDWORK = "handwork"


@dataclass(frozen=True, kw_only=True)
class Repair:
    """The nearest way out: from when, and with what it would hold then; or none, and why."""

    sentence: str
    starts_at: dt.datetime | None = None
    equipment: tuple[Equipment, ...] = ()
    reasons: tuple[str, ...] = ()
    losing: int = 0

    @property
    def found(self) -> bool:
        return self.starts_at is not None


@dataclass(frozen=True, kw_only=True)
class Broken:
    """One booking that cannot be as it stands: what it is, whose, when, where, why, and its repair.

    `subject` is its row; `session` the class that is moved to repair it, if any. Of a firing that several
    classes or kiln jobs share there is one for each of them. `repair` is None as long as none was looked for.
    """

    what: What
    subject: Session | Seat | Firing | Charge | JobStep
    title: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    equipment: Equipment
    why: str
    session: Session | None = None
    repair: Repair | None = None
    job: KilnJob | None = None

    @property
    def uid(self) -> UUID:
        return self.subject.uid


def broken_by(outage: Outage) -> tuple[Broken, ...]:
    """Every booking to come, or under way, whose exclusive span at this equipment meets an outage.

    Then what follows it at a hot station and finds it cold, with too little room or nobody to light it.
    """
    rows = Occupancy.objects.filter(
        equipment=outage.equipment,
        exclusive_from__lt=outage.ends_at,
        exclusive_to__gt=max(outage.starts_at, timezone.now()),
    )
    why = _out_of_use(outage)
    found = [each for row in _whole(rows) for each in of_occupancy(row, why)]
    found.extend(_found_cold(outage))
    once = {(each.what, each.uid, each.session, each.job): each for each in found}
    return tuple(sorted(once.values(), key=lambda each: (each.starts_at, each.title, each.uid)))


def _out_of_use(outage: Outage) -> str:
    studio = outage.equipment.studio
    return say(
        "{equipment} is out of use from {start} to {end}: {why}.",
        equipment=outage.equipment.name,
        start=when(outage.starts_at, studio),
        end=when(outage.ends_at, studio),
        why=outage.reason,
    )


def _whole(rows: QuerySet[Occupancy]) -> Iterator[Occupancy]:
    related = (
        "equipment__studio",
        "booking__session__course",
        "booking__session__studio",
        "booking__job_step__job",
    )
    seats = ("booking__session__instructor", "booking__seat__person", "booking__seat__torch")
    found = rows.select_related(*related, *seats, "firing", "charge")
    yield from found.order_by("exclusive_from", "pk")


def of_occupancy(row: Occupancy, why: str) -> Iterator[Broken]:
    """What an occupancy belongs to; a firing belongs to each class that has pieces in it."""
    if row.firing is not None:
        yield from _of_firing(row, row.firing, why)
    elif row.charge is not None:
        yield _broken(
            row, What.CHARGE, row.charge, say("Charge of {equipment}", equipment=row.equipment.name), why
        )
    elif row.booking is not None and hasattr(row.booking, "session"):
        session = row.booking.session
        yield _broken(row, What.SESSION, session, session.course.name, why, session=session)
    elif row.booking is not None and hasattr(row.booking, "seat"):
        title = say("Bench time of {who}", who=row.booking.seat.person.name)
        yield _broken(row, What.SEAT, row.booking.seat, title, why)
    elif row.booking is not None and hasattr(row.booking, "job_step"):
        step = row.booking.job_step
        title = say("{does} for {what}", does=step.does.replace("-", " ").capitalize(), what=step.job.title)
        yield _broken(row, What.HANDWORK, step, title, why, job=step.job)


def _of_firing(row: Occupancy, firing: Firing, why: str) -> Iterator[Broken]:
    related = ("session__course", "session__studio", "session__instructor", "job", "owner")
    loads = firing.loads.select_related(*related)
    for load in loads.order_by("in_from", "pk"):
        own = say("a load of {who}", who=load.owner.name)
        course = own if load.session is None and load.job is None else load_title(load)
        title = say("Firing of {course}", course=course)
        yield _broken(row, What.FIRING, firing, title, why, session=load.session, job=load.job)


def _broken(
    row: Occupancy,
    what: What,
    subject: Session | Seat | Firing | Charge | JobStep,
    title: str,
    why: str,
    *,
    session: Session | None = None,
    job: KilnJob | None = None,
) -> Broken:
    """A firing and a charge are said by all that they hold, a class and bench time by their own hours."""
    own = subject if isinstance(subject, Session | Seat | Charge | JobStep) else row
    return Broken(
        what=what,
        subject=subject,
        title=title,
        starts_at=own.starts_at,
        ends_at=own.ends_at,
        equipment=row.equipment,
        why=why,
        session=session,
        job=job,
    )


def _found_cold(outage: Outage) -> Iterator[Broken]:
    """What is lit after an outage must be lit from cold: in time, and by somebody who is there."""
    equipment, studio = outage.equipment, outage.equipment.studio
    at_end = Occupancy.objects.filter(equipment=equipment, exclusive_to__gt=outage.ends_at)
    row = next(_whole(at_end), None)
    if Kind(equipment.kind) not in HOT_STATIONS or row is None or row.booking is None:
        return
    if row.booking.session.starts_at < outage.ends_at or row.exclusive_to <= timezone.now():
        return
    world, session = load_world([studio], horizon_around(outage.ends_at)), row.booking.session
    apparatus, start = world.apparatus[equipment.pk], floor_minutes(session.starts_at)
    if not has_record(apparatus):
        return
    lit, lead = floor_minutes(row.exclusive_from), lead_min(apparatus, COLD, start)
    attended = covers(lightable(world, apparatus), lit, ceil_minutes(row.exclusive_to))
    if lead > start - lit or not attended:
        since = when(row.exclusive_from, studio)
        late, nobody = say("too late"), say("when nobody who may light it is there")
        why = say(
            "{equipment} is cold after the outage, takes {lead} min to heat and would be lit at {since}, "
            "{reason}.",
            equipment=equipment.name,
            lead=lead,
            since=since,
            reason=late if lead > start - lit else nobody,
        )
        yield _broken(row, What.SESSION, session, session.course.name, why, session=session)
