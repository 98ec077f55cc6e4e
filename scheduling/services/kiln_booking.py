"""Booking a plan for a kiln job, whole: each load and each hour at the cold station as it was found.

KilnAnswer.plan --lock kilns, stations, supplies, job--> what was booked and has not begun is given up
    --> does every piece still need just that, and does the engine place it at the same moments?
    yes: firings, loads, stands, steps; the job is booked          no: nothing is written, PlanGone
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.kiln_work.answers import WorkPlanned, from_json
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.world import World
from scheduling.errors import NotAllowed, NotYours, Over, PlanGone
from scheduling.models import KilnAnswer, KilnJob, KilnJobStatus, Load
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.selectors.kiln_ready import HandedBack, handed_back
from scheduling.selectors.kiln_stages import standing_of, to_come
from scheduling.selectors.moulds import too_many_at_once
from scheduling.selectors.pieces import pieces_to_fire
from scheduling.selectors.teaching import require_signed_off
from scheduling.services import audit
from scheduling.services.firings import take_out, tell_moved
from scheduling.services.freeing import cancel_booking
from scheduling.services.kiln_writing import Writing, steps_planned, write_plan
from scheduling.services.messages import tell
from scheduling.services.shelf_washing import hand_washes_on
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import when
from studios.models import Draw, Equipment, EquipmentKind, Person, Studio
from studios.said import said, several_said
from studios.selectors import may

__all__ = [
    "book",
    "cancel",
    "kilns_of",
    "lock_equipment",
    "require_moulds",
    "to_come",
]

# What-ifs of other work than the job asks for: their plans are for reading.
OTHER_WORK = frozenset({"more_pieces", "thickness_mm", "arrives_at"})


@one_write
def book(*, actor: Person, answer: KilnAnswer) -> KilnJob:
    """Book the plan that was found for a kiln job, every firing and every step of it, or nothing at all.

    Of a job that is booked it takes the place of what has not begun. Raises NotAllowed, NotQualified,
    NotYours, Over, or PlanGone where anything of it is no longer as it was found.
    """
    job, plan = answer.job, _plan_of(answer)
    studios = _studios_of(plan)
    require_booker(actor, studios)
    _require_signed_off(actor, plan, studios)
    _lock_plan(plan, job)
    job.refresh_from_db()
    _require_asked(actor, answer, job)
    was = standing_of(job)
    writing = Writing(
        job=job, actor=actor, plan=plan, pieces=list(pieces_to_fire(job)), studios=studios, was=was
    )
    _require_needed(writing)
    anew = job.status == KilnJobStatus.BOOKED
    release(job)
    write_plan(writing)
    require_moulds(job)
    ready = _settle(job, plan, studios)
    _tell_booked(job, plan, ready, anew=anew)
    left = {load.firing.equipment.studio for load in was.to_come} | {one.studio for one in was.steps_to_come}
    for studio in sorted({*studios, *left}, key=lambda row: row.pk):
        did = "plan-anew" if anew else "book"
        audit.note(actor=actor, did=did, subject=job, studio=studio, said=_noted(job, plan, studio, ready))
    return job


def _settle(job: KilnJob, plan: WorkPlanned, studios: Iterable[Studio]) -> list[HandedBack]:
    """It is booked, and ready once the plan is and what stays is; when and where its pieces are then."""
    ready = handed_back(job)
    job.status = KilnJobStatus.BOOKED
    job.ready_at = max([moment(plan.ready), *(each.at for each in ready)])
    job.sequence, job.changed_at = job.sequence + 1, timezone.now()
    job.save(update_fields=["status", "ready_at", "sequence", "changed_at"])
    job.studios.add(*studios)
    return ready


def require_booker(actor: Person, studios: Iterable[Studio]) -> None:
    """Who books kilns may, at each studio that the plan needs. Raises NotAllowed."""
    for studio in studios:
        if not may(actor, "book-kiln-job", studio):
            raise NotAllowed(
                who=actor.name, what=said("book firings"), studio=studio.name, role=said("instructor")
            )


def _require_signed_off(actor: Person, plan: WorkPlanned, studios: Iterable[Studio]) -> None:
    """Who looks after the equipment may book all of it; others what they are signed off for. NotQualified."""
    worked_cold = {work.studio_id for work in plan.handwork if work.station_id is not None}
    for studio in studios:
        kinds = {EquipmentKind.KILN.value}
        if studio.pk in worked_cold:
            kinds.add(EquipmentKind.COLD_STATION.value)
        if not may(actor, "set-up-equipment", studio):
            require_signed_off(actor, studio, kinds)


def _plan_of(answer: KilnAnswer) -> WorkPlanned:
    """Raises Over."""
    if answer.plan is None:
        raise Over(what=said("The answer"), why=said("has no plan to be booked"))
    if OTHER_WORK & answer.what_if.keys():
        raise Over(
            what=said("The answer"),
            why=said("is for other work than the job asks for; change the job, and seek again"),
        )
    return from_json(answer.plan)


def _require_asked(actor: Person, answer: KilnAnswer, job: KilnJob) -> None:
    """Raises Over, NotYours or PlanGone."""
    if job.status not in {KilnJobStatus.ASKED, KilnJobStatus.BOOKED}:
        raise Over(what=job.title, why=said("is over"))
    changed, booked = job.changed_at > answer.started_at, job.status == KilnJobStatus.BOOKED
    if booked and not minds_job(actor, job):
        raise NotYours(what=job.title)
    if booked and changed:
        raise Over(
            what=job.title, why=said("is booked already, or has changed since this was found; seek again")
        )
    if changed:
        raise PlanGone(why=said("the job has been changed since."))


def _require_needed(writing: Writing) -> None:
    """A plan has for each piece just what it still needs. Raises PlanGone."""
    plan, pieces = writing.plan, writing.pieces
    stages = [writing.was.stage(piece) for piece in pieces]
    planned, last = steps_planned(plan), len(writing.was.route.firings)
    cold = [work for work in plan.handwork if work.does is Handwork.COLD_WORK and not work.load]
    worked = {piece for work in cold for piece in work.of}
    if any(piece >= len(pieces) for piece in {*planned, *worked}):
        raise PlanGone(why=said("there are fewer pieces now."))
    fired = [planned.get(piece, []) for piece in range(len(pieces))]
    if fired != [list(range(stage.first + 1, last + 1)) for stage in stages]:
        raise PlanGone(why=said("a firing of it has begun since, or there are other pieces now."))
    if worked != {piece for piece, stage in enumerate(stages) if stage.unworked}:
        raise PlanGone(why=said("cold work of it has been done or begun since."))


def _studios_of(plan: WorkPlanned) -> list[Studio]:
    keys = {load.studio_id for load in plan.loads} | {work.studio_id for work in plan.handwork}
    return list(Studio.objects.filter(pk__in=keys).order_by("pk"))


def _lock_plan(plan: WorkPlanned, job: KilnJob) -> None:
    """Lock the kilns and stations of the plan and of what is booked, all that they draw on, and the job."""
    stations = [work.station_id for work in plan.handwork if work.station_id is not None]
    kilns = [load.kiln_id for load in plan.loads]
    moulded = job.sizes.filter(mould__isnull=False).exists()
    sharing = kilns_of({load.studio_id for load in plan.loads}) if moulded else []
    lock_equipment([*kilns, *stations, *sharing, *_held_by(job)], jobs=[job.pk])


def _held_by(job: KilnJob) -> list[int]:
    """The kilns and stations that it is booked in."""
    loads = job.loads.values_list("firing__equipment_id", flat=True)
    steps = job.steps.filter(equipment__isnull=False).values_list("equipment_id", flat=True)
    return [*loads, *steps]


def kilns_of(studios: Iterable[int]) -> list[int]:
    """Every kiln at some studios: who takes moulds there locks all that could have them at once."""
    rows = Equipment.objects.filter(studio__in=set(studios), kind=EquipmentKind.KILN)
    return list(rows.values_list("pk", flat=True))


def lock_equipment(keys: Iterable[int], *, jobs: Iterable[int]) -> None:
    """Lock equipment with all that it draws on, and kiln jobs."""
    every = sorted(set(keys))
    drawn = Draw.objects.filter(equipment__in=every).values_list("supply_id", flat=True)
    rooms = Equipment.objects.filter(pk__in=every, room__isnull=False).values_list("room_id", flat=True)
    lock(supplies=[*drawn, *rooms], equipment=every, jobs=jobs)


def require_moulds(job: KilnJob) -> None:
    """Two loads that run at once share the moulds, whosever they are. Raises PlanGone."""
    moulds = set(job.sizes.filter(mould__isnull=False).values_list("mould", flat=True))
    spans = job.loads.values_list("firing__occupancy__starts_at", "firing__occupancy__ends_at")
    if not moulds or not spans:
        return
    within = min(floor_minutes(begin) for begin, _ in spans), max(ceil_minutes(end) for _, end in spans)
    found = too_many_at_once(within, moulds)
    if found is not None:
        mould, span = found
        raise PlanGone(
            why=said(
                "there are {count} of the mould {mould}, and more would be in kilns at once from {when} to "
                "{when_2}.",
                count=mould.count,
                mould=mould.name,
                when=when(moment(span[0]), mould.studio),
                when_2=when(moment(span[1]), mould.studio),
            )
        )


def _noted(job: KilnJob, plan: WorkPlanned, studio: Studio, ready: Iterable[HandedBack]) -> str:
    here = [load for load in plan.loads if load.studio_id == studio.pk]
    at = next((each.at for each in ready if each.studio == studio), None)
    return f"{job.title}: {len(here)} firings" + (f", ready {when(at, studio)}" if at is not None else "")


def _tell_booked(job: KilnJob, plan: WorkPlanned, ready: Sequence[HandedBack], *, anew: bool) -> None:
    """Its owner hears when each firing is loaded and unloaded, and when all is ready, at each studio."""
    subject = said("Booked: {what}", what=job.title)
    lines = [*_firings_said(plan), *_ready_said(ready)]
    if anew:
        subject = said("Planned anew: {what}", what=job.title)
        lines.insert(0, said("{what}: what had not begun is booked anew.", what=job.title))
    tell(person=job.owner, subject=subject, body=several_said(lines, "\n"))


def _firings_said(plan: WorkPlanned) -> list[str]:
    kilns = Equipment.objects.select_related("studio").in_bulk({load.kiln_id for load in plan.loads})
    return [
        said(
            "{kiln} at {studio}: loaded at {when}, unloaded at {when_2}.",
            kiln=kilns[load.kiln_id].name,
            studio=kilns[load.kiln_id].studio.name,
            when=when(moment(load.begins), kilns[load.kiln_id].studio),
            when_2=when(moment(load.unload), kilns[load.kiln_id].studio),
        )
        for load in sorted(plan.loads, key=lambda one: one.begins)
    ]


def _ready_said(ready: Sequence[HandedBack]) -> list[str]:
    """At one studio all of it; where it is fired at several, how many pieces each hands back."""
    if len(ready) == 1:
        (only,) = ready
        return [said("All of it can be handed back from {when}.", when=when(only.at, only.studio))]
    return [
        said(
            "{count} piece can be handed back at {studio} from {when}.",
            several="{count} pieces can be handed back at {studio} from {when}.",
            count=each.pieces,
            studio=each.studio.name,
            when=when(each.at, each.studio),
        )
        for each in ready
    ]


@one_write
def cancel(*, actor: Person, job: KilnJob) -> KilnJob:
    """Call a kiln job off: firings and hours at the cold station that have not begun are free again.

    What is in a kiln is fired to its end. Raises NotYours or Over.
    """
    if not minds_job(actor, job):
        raise NotYours(what=job.title)
    lock_all_of(job)
    job.refresh_from_db()
    if job.status not in {KilnJobStatus.ASKED, KilnJobStatus.BOOKED}:
        raise Over(what=job.title, why=said("is over already"))
    studios = list(job.studios.order_by("pk"))
    release(job)
    job.status, job.sequence, job.changed_at = KilnJobStatus.CANCELLED, job.sequence + 1, timezone.now()
    job.save(update_fields=["status", "sequence", "changed_at"])
    if actor != job.owner:
        tell(
            person=job.owner,
            subject=said("Called off: {what}", what=job.title),
            body=said(
                "{what}: its firings that have not begun are called off by {who}.",
                what=job.title,
                who=actor.name,
            ),
        )
    for studio in studios:
        audit.note(actor=actor, did="call-off", subject=job, studio=studio, said=job.title)
    return job


def lock_all_of(job: KilnJob) -> None:
    """Lock every kiln and cold station at the studios of a job, and those that it has a load in."""
    kinds = (EquipmentKind.KILN, EquipmentKind.COLD_STATION)
    there = Equipment.objects.filter(studio__in=job.studios.all(), kind__in=kinds).values_list(
        "pk", flat=True
    )
    lock_equipment([*there, *_held_by(job)], jobs=[job.pk])


def release(job: KilnJob) -> None:
    """What of a kiln job has not begun holds nothing any more; others in its firings hear if they move."""
    now = timezone.now()
    hand_washes_on(job)
    for step in job.steps.filter(done_at__isnull=True, starts_at__gt=now).select_related("booking"):
        step.delete()
        if step.booking is not None:
            step.booking.occupancies.all().delete()
            cancel_booking(step.booking)
    for load in to_come(job):
        taken = take_out(_world_of(load), load)
        if taken.moved:
            tell_moved(taken.firing)


def _world_of(load: Load) -> World:
    firing = load.firing
    return load_world([firing.equipment.studio], horizon_around(firing.at_hold_at))
