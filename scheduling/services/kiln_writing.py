"""Writing a plan for a kiln job, as it was found: loads, handwork, and where each piece stands.

Everything is placed by the engine again, in the world as it is by then; PlanGone where that is otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from scheduling.engine.clock import moment
from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned
from scheduling.engine.kiln_work.bare import bare_firing, cold_work, flat_piece, never_waiting
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.records import Ask, Duty, FiringHeld, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import covers
from scheduling.engine.wording import at
from scheduling.engine.world import World
from scheduling.errors import PlanGone
from scheduling.models import Booking, JobStep, KilnJob, Load, Piece, Stand
from scheduling.selectors.kiln_stages import Standing
from scheduling.services.firings import write_job_firing
from scheduling.services.holding import write_occupancy
from scheduling.services.refills import write_change_overs
from scheduling.snapshot import glass_of, horizon_around, load_world
from studios.models import Person, Studio
from studios.said import said, several_said


@dataclass(frozen=True, kw_only=True)
class Writing:
    """A plan on its way into the book: for which job, by whom, for which pieces in the plan's order.

    `was` is how the job stood before; `loads` are those that are written so far.
    """

    job: KilnJob
    actor: Person
    plan: WorkPlanned
    pieces: Sequence[Piece]
    studios: Sequence[Studio]
    was: Standing
    loads: dict[str, Load] = field(default_factory=dict)

    def pieces_of(self, work: HandworkPlanned) -> list[Piece]:
        """What is worked cold; an older plan names the load alone."""
        of = work.of
        if work.does is Handwork.COLD_WORK and not of:
            of = tuple(
                stand.piece for load in self.plan.loads if load.key == work.load for stand in load.stands
            )
        return [self.pieces[piece] for piece in of]


def write_plan(writing: Writing) -> None:
    """All of it. Raises PlanGone."""
    _write_loads(writing)
    for work in sorted(writing.plan.handwork, key=lambda one: (one.span, one.load)):
        _write_handwork(writing, work)
    _write_stands(writing)
    _serve(writing)


def _world_for(studios: Sequence[Studio], begins: int, ends: int) -> World:
    """The kilns and stations as they are taken now; no loaded kiln waits."""
    return never_waiting(load_world(studios, horizon_around(moment(begins), moment(ends))))


def _write_loads(writing: Writing) -> None:
    """Each load in the order of time, in a world that has the ones before it."""
    loads = sorted(writing.plan.loads, key=lambda one: (one.begins, one.key))
    for load in loads:
        world = _world_for(writing.studios, load.begins, max(one.done for one in loads))
        held = _placed(world, writing.job, load)
        row = write_job_firing(held, job=writing.job, step=load.step, pieces=len(load.stands))
        if writing.job.shares_space:
            row.firing.takes_more_until = moment(load.begins)
            row.firing.save(update_fields=["takes_more_until"])
        writing.loads[load.key] = row


def _ask_of_load(job: KilnJob, load: LoadPlanned) -> Ask:
    """What a load needs of its kiln; it was sought with the same."""
    return bare_firing(
        title=job.title,
        studio_id=load.studio_id,
        kiln_id=load.kiln_id,
        recipe=load.recipe,
        piece=flat_piece(glass_of(job.glass), job.thickness_mm),
        footprint_cm2=load.footprint_cm2,
    )


def _placed(world: World, job: KilnJob, load: LoadPlanned) -> FiringHeld:
    """The firing of a load, if it still runs when it was to. Raises PlanGone."""
    answer = place(world, _ask_of_load(job, load), load.begins)
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


def _write_handwork(writing: Writing, work: HandworkPlanned) -> None:
    """In an hour at which somebody is there, or at a station that is free then. Raises PlanGone."""
    world = _world_for(writing.studios, *work.span)
    booking = None if work.station_id is None else _hold_station(world, writing, work)
    if booking is None and not covers(world.studios[work.studio_id].staffed[Duty.LOAD], *work.span):
        raise PlanGone(
            why=said(
                "nobody is there for {does} at {when}.",
                does=said(work.does.value.replace("-", " ")),
                when=at(work.span[0], world.studios[work.studio_id]),
            )
        )
    of = writing.pieces_of(work)
    step = JobStep.objects.create(
        job=writing.job,
        load=writing.loads.get(work.load) or _came_from(writing, of),
        does=work.does.value,
        studio_id=work.studio_id,
        equipment_id=work.station_id,
        booking=booking,
        starts_at=moment(work.span[0]),
        ends_at=moment(work.span[1]),
        pieces=work.pieces,
    )
    step.of.set(of)


def _came_from(writing: Writing, pieces: Iterable[Piece]) -> Load | None:
    """What is out of a kiln already comes from the load in which it was last; from several: from none."""
    loads = {writing.was.fired[piece.pk] for piece in pieces}
    return loads.pop() if len(loads) == 1 else None


def _hold_station(world: World, writing: Writing, work: HandworkPlanned) -> Booking:
    """The hours of cold work, if the station is still free for them. Raises PlanGone."""
    begin, end = work.span
    ask = cold_work(
        title=writing.job.title,
        studio_id=work.studio_id,
        station_id=work.station_id or 0,
        minutes=end - begin,
    )
    answer = place(world, ask, begin)
    if not isinstance(answer, Placement):
        raise PlanGone(why=several_said([reason.sentence for reason in answer.reasons], " "), load=work.load)
    booking = Booking.objects.create(studio_id=work.studio_id, booked_by=writing.actor)
    for part in answer.held:
        write_occupancy(part, booking=booking)
    write_change_overs(booking, answer.change_overs)
    return booking


def _write_stands(writing: Writing) -> None:
    """Where each piece stands in each load."""
    Stand.objects.bulk_create(
        Stand(
            load=writing.loads[load.key],
            piece=writing.pieces[stand.piece],
            level=stand.level,
            x_mm=stand.x_mm,
            y_mm=stand.y_mm,
            length_mm=stand.length_mm,
            width_mm=stand.width_mm,
            round=stand.round,
        )
        for load in writing.plan.loads
        for stand in load.stands
    )


def _serve(writing: Writing) -> None:
    """What was washed or prepared for a load that was given up is for the new load that does without."""
    spare = list(writing.was.spare)
    by_hand = {(work.load, work.does) for work in writing.plan.handwork}
    for load in sorted(writing.plan.loads, key=lambda one: (one.begins, one.key)):
        for need in writing.was.route.firings[load.step - 1].before:
            where = load.studio_id, load.kiln_id
            good = (each for each in spare if each[1].serves(need.does, *where, load.begins))
            found = next(good, None)
            if found is None or (load.key, need.does) in by_hand or not _needed(writing, load, need.does):
                continue
            spare.remove(found)
            JobStep.objects.filter(pk=found[0].pk).update(load=writing.loads[load.key])


def _needed(writing: Writing, load: LoadPlanned, does: Handwork) -> bool:
    sizes = (writing.pieces[stand.piece].size for stand in load.stands)
    return does is not Handwork.PREPARE_MOULDS or any(size and size.mould_id for size in sizes)


def steps_planned(plan: WorkPlanned) -> Mapping[int, list[int]]:
    """Of each piece the firings of its route that a plan has for it, in order, counted from 1."""
    found: dict[int, list[int]] = {}
    for load in sorted(plan.loads, key=lambda one: one.begins):
        for stand in load.stands:
            found.setdefault(stand.piece, []).append(load.step)
    return found
