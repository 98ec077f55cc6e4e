"""Booking a plan for a kiln job, whole: each load and each hour at the cold station as it was found.

KilnAnswer.plan --lock kilns, stations, supplies, job--> place each by the engine --> the same moments?
    yes: firings, loads, stands, steps; the job is booked          no: nothing is written, PlanGone
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned, from_json
from scheduling.engine.kiln_work.bare import bare_firing, cold_work, flat_piece, never_waiting
from scheduling.engine.records import Ask, Duty, FiringHeld, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import covers
from scheduling.engine.wording import at
from scheduling.engine.world import World
from scheduling.errors import NotAllowed, NotYours, Over, PlanGone
from scheduling.models import (
    Booking,
    JobStep,
    KilnAnswer,
    KilnJob,
    KilnJobStatus,
    Load,
    Stand,
)
from scheduling.selectors.kiln_jobs import minds_job
from scheduling.selectors.moulds import too_many_at_once
from scheduling.selectors.pieces import pieces_to_fire
from scheduling.selectors.teaching import require_signed_off
from scheduling.services import audit
from scheduling.services.firings import take_out, tell_moved, write_job_firing
from scheduling.services.freeing import cancel_booking
from scheduling.services.holding import write_occupancy
from scheduling.services.messages import tell
from scheduling.services.refills import write_change_overs
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import glass_of, horizon_around, load_world
from scheduling.wording import when
from studios.models import Draw, Equipment, EquipmentKind, Person, Studio
from studios.said import said, several_said
from studios.selectors import may

# What-ifs of other work than the job asks for: their plans are for reading.
OTHER_WORK = frozenset({"more_pieces", "thickness_mm", "arrives_at"})


@one_write
def book(*, actor: Person, answer: KilnAnswer) -> KilnJob:
    """Book the plan that was found for a kiln job, every firing and every step of it, or nothing at all.

    Raises NotAllowed, NotQualified, Over, or PlanGone where anything of it is no longer as it was found.
    """
    job = answer.job
    plan = _plan_of(answer)
    studios = _studios_of(plan)
    require_booker(actor, studios)
    _require_signed_off(actor, plan, studios)
    _lock_plan(plan, job)
    job.refresh_from_db()
    _require_asked(answer, job)
    loads = _write_loads(job, plan, studios)
    _write_handwork(actor, job, plan, studios)
    _write_stands(job, plan, loads)
    require_moulds(job)
    job.status, job.ready_at = KilnJobStatus.BOOKED, moment(plan.ready)
    job.sequence, job.changed_at = job.sequence + 1, timezone.now()
    job.save(update_fields=["status", "ready_at", "sequence", "changed_at"])
    job.studios.add(*studios)
    _tell_booked(job, plan)
    for studio in studios:
        audit.note(actor=actor, did="book", subject=job, studio=studio, said=_noted(job, plan, studio))
    return job


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


def _require_asked(answer: KilnAnswer, job: KilnJob) -> None:
    """Raises Over or PlanGone."""
    if job.status != KilnJobStatus.ASKED:
        booked = job.status == KilnJobStatus.BOOKED
        raise Over(what=job.title, why=said("is booked already") if booked else said("is over"))
    if job.changed_at > answer.started_at:
        raise PlanGone(why=said("the job has been changed since."))


def _studios_of(plan: WorkPlanned) -> list[Studio]:
    keys = {load.studio_id for load in plan.loads} | {work.studio_id for work in plan.handwork}
    return list(Studio.objects.filter(pk__in=keys).order_by("pk"))


def _lock_plan(plan: WorkPlanned, job: KilnJob) -> None:
    """Lock its kilns and stations, what they draw on, and the rooms that they stand in."""
    stations = [work.station_id for work in plan.handwork if work.station_id is not None]
    kilns = [load.kiln_id for load in plan.loads]
    moulded = job.sizes.filter(mould__isnull=False).exists()
    sharing = kilns_of({load.studio_id for load in plan.loads}) if moulded else []
    lock_equipment([*kilns, *stations, *sharing], jobs=[job.pk])


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


def world_for(studios: Sequence[Studio], begins: int, ends: int) -> World:
    """The kilns and stations as they are taken now; no loaded kiln waits."""
    return never_waiting(load_world(studios, horizon_around(moment(begins), moment(ends))))


def ask_of_load(job: KilnJob, load: LoadPlanned) -> Ask:
    """What a load needs of its kiln; it was sought with the same."""
    return bare_firing(
        title=job.title,
        studio_id=load.studio_id,
        kiln_id=load.kiln_id,
        recipe=load.recipe,
        piece=flat_piece(glass_of(job.glass), job.thickness_mm),
        footprint_cm2=load.footprint_cm2,
    )


def _write_loads(job: KilnJob, plan: WorkPlanned, studios: Sequence[Studio]) -> dict[str, Load]:
    """Each load in the order of time, in a world that has the ones before it."""
    written: dict[str, Load] = {}
    ends = max(load.done for load in plan.loads)
    for load in sorted(plan.loads, key=lambda one: (one.begins, one.key)):
        world = world_for(studios, load.begins, ends)
        held = placed(world, job, load)
        row = write_job_firing(held, job=job, step=load.step, pieces=len(load.stands))
        if job.shares_space:
            row.firing.takes_more_until = moment(load.begins)
            row.firing.save(update_fields=["takes_more_until"])
        written[load.key] = row
    return written


def placed(world: World, job: KilnJob, load: LoadPlanned) -> FiringHeld:
    """The firing of a load, if it still runs when it was to. Raises PlanGone."""
    answer = place(world, ask_of_load(job, load), load.begins)
    if not isinstance(answer, Placement):
        raise PlanGone(why=several_said([reason.sentence for reason in answer.reasons], " "), load=load.key)
    (held,) = answer.firings
    found = (held.held.apparatus_id, held.at_hold, held.cool, held.unload, held.held.span[1])
    if found != (load.kiln_id, load.closed, load.cool, load.unload, load.done):
        studio = world.studios[load.studio_id]
        raise PlanGone(
            why=said(
                "the firing of {when} in {kiln} would end at another time now.",
                when=at(load.begins, studio),
                kiln=world.apparatus[load.kiln_id].name,
            ),
            load=load.key,
        )
    return held


def _write_handwork(actor: Person, job: KilnJob, plan: WorkPlanned, studios: Sequence[Studio]) -> None:
    for work in sorted(plan.handwork, key=lambda one: (one.span, one.load)):
        world = world_for(studios, *work.span)
        booking = None if work.station_id is None else _hold_station(world, actor, job, work)
        if booking is None and not covers(world.studios[work.studio_id].staffed[Duty.LOAD], *work.span):
            raise PlanGone(
                why=said(
                    "nobody is there for {does} at {when}.",
                    does=said(work.does.value.replace("-", " ")),
                    when=at(work.span[0], world.studios[work.studio_id]),
                )
            )
        JobStep.objects.create(
            job=job,
            does=work.does.value,
            studio_id=work.studio_id,
            equipment_id=work.station_id,
            booking=booking,
            starts_at=moment(work.span[0]),
            ends_at=moment(work.span[1]),
            pieces=work.pieces,
        )


def _hold_station(world: World, actor: Person, job: KilnJob, work: HandworkPlanned) -> Booking:
    """The hours of cold work, if the station is still free for them. Raises PlanGone."""
    begin, end = work.span
    ask = cold_work(
        title=job.title, studio_id=work.studio_id, station_id=work.station_id or 0, minutes=end - begin
    )
    answer = place(world, ask, begin)
    if not isinstance(answer, Placement):
        raise PlanGone(why=several_said([reason.sentence for reason in answer.reasons], " "), load=work.load)
    booking = Booking.objects.create(studio_id=work.studio_id, booked_by=actor)
    for part in answer.held:
        write_occupancy(part, booking=booking)
    write_change_overs(booking, answer.change_overs)
    return booking


def _write_stands(job: KilnJob, plan: WorkPlanned, loads: Mapping[str, Load]) -> None:
    """Where each piece stands in each load. Raises PlanGone where there are other pieces now."""
    pieces = list(pieces_to_fire(job))
    if any(stand.piece >= len(pieces) for load in plan.loads for stand in load.stands):
        raise PlanGone(why=said("there are fewer pieces now."))
    Stand.objects.bulk_create(
        Stand(
            load=loads[load.key],
            piece=pieces[stand.piece],
            level=stand.level,
            x_mm=stand.x_mm,
            y_mm=stand.y_mm,
            length_mm=stand.length_mm,
            width_mm=stand.width_mm,
            round=stand.round,
        )
        for load in plan.loads
        for stand in load.stands
    )


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


def _noted(job: KilnJob, plan: WorkPlanned, studio: Studio) -> str:
    here = [load for load in plan.loads if load.studio_id == studio.pk]
    return f"{job.title}: {len(here)} firings, ready {when(moment(plan.ready), studio)}"


def _tell_booked(job: KilnJob, plan: WorkPlanned) -> None:
    """Its owner hears when each firing is loaded and unloaded, and when all is ready."""
    kilns = Equipment.objects.select_related("studio").in_bulk({load.kiln_id for load in plan.loads})
    lines = [
        said(
            "{kiln} at {studio}: loaded at {when}, unloaded at {when_2}.",
            kiln=kilns[load.kiln_id].name,
            studio=kilns[load.kiln_id].studio.name,
            when=when(moment(load.begins), kilns[load.kiln_id].studio),
            when_2=when(moment(load.unload), kilns[load.kiln_id].studio),
        )
        for load in sorted(plan.loads, key=lambda one: one.begins)
    ]
    last = kilns[max(plan.loads, key=lambda one: one.done).kiln_id].studio
    ready = said("All of it can be handed back from {when}.", when=when(moment(plan.ready), last))
    tell(
        person=job.owner,
        subject=said("Booked: {what}", what=job.title),
        body=several_said([*lines, ready], "\n"),
    )


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
    held = job.loads.values_list("firing__equipment_id", flat=True)
    lock_equipment([*there, *held], jobs=[job.pk])


def release(job: KilnJob) -> None:
    """What of a kiln job has not begun holds nothing any more; others in its firings hear if they move."""
    now = timezone.now()
    for step in job.steps.filter(done_at__isnull=True, starts_at__gt=now).select_related("booking"):
        step.delete()
        if step.booking is not None:
            step.booking.occupancies.all().delete()
            cancel_booking(step.booking)
    for load in to_come(job):
        taken = take_out(_world_of(load), load)
        if taken.moved:
            tell_moved(taken.firing)


def to_come(job: KilnJob) -> list[Load]:
    """Its loads that nobody has begun to put in."""
    rows = job.loads.filter(firing__occupancy__starts_at__gt=timezone.now(), firing__actuals__isnull=True)
    return list(rows.select_related("firing__equipment__studio").order_by("in_from", "pk"))


def _world_of(load: Load) -> World:
    firing = load.firing
    return load_world([firing.equipment.studio], horizon_around(firing.at_hold_at))
