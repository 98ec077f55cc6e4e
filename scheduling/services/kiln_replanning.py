"""What of a kiln job has not begun is booked anew as it now fits: after an outage, or when a kiln ran late.

what has not begun --release--> each load again: its pieces ready, its handwork dry --first_start--> the kiln
that is through with it first --> written as it was packed
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, floor_minutes, moment
from scheduling.engine.kiln_work.bare import bare_firing, cold_work, flat_piece, never_waiting
from scheduling.engine.kiln_work.handwork import after_handwork, cold_parts, latest_before
from scheduling.engine.kiln_work.routes import ROUTES, Before, FiringStep, Handwork, Route, RouteName
from scheduling.engine.records import Ask, Duty, FiringHeld, Placement
from scheduling.engine.search import place
from scheduling.engine.spans import intersect
from scheduling.engine.startspace.space import first_start, start_space
from scheduling.engine.world import World
from scheduling.errors import NoStart, Over
from scheduling.models import Booking, JobStep, KilnJob, KilnJobStatus, Load, Stand
from scheduling.services import audit
from scheduling.services.firings import write_job_firing
from scheduling.services.holding import write_occupancy
from scheduling.services.kiln_booking import lock_all_of, release, require_booker, require_moulds, to_come
from scheduling.services.messages import tell
from scheduling.services.refills import write_change_overs
from scheduling.services.transactions import one_write
from scheduling.snapshot import glass_of, horizon_around, load_world
from scheduling.wording import when
from studios.models import Equipment, EquipmentKind, Person, Studio
from studios.said import said

AHEAD = dt.timedelta(weeks=6)


@dataclass(frozen=True, kw_only=True)
class Left:
    """A load that has not begun: its pieces as they were packed, and at which studio."""

    step: int
    kiln: Equipment
    footprint_cm2: int
    shared: bool
    stands: tuple[Stand, ...]

    @property
    def levels(self) -> int:
        return max((stand.level or 1 for stand in self.stands), default=1)


@dataclass(kw_only=True)
class Again:
    """A kiln job while it is booked anew: from when on each piece is free, and what is washed already."""

    job: KilnJob
    actor: Person
    free: dict[int, int] = field(default_factory=dict)
    spare: list[JobStep] = field(default_factory=list)

    @property
    def route(self) -> Route:
        return ROUTES[RouteName(self.job.route)]

    def free_from(self, pieces: Iterable[int]) -> int:
        """The minute from which on all of some pieces may be loaded or worked on."""
        return max((self.free[piece] for piece in pieces), default=0)


@one_write
def replan(*, actor: Person, job: KilnJob) -> KilnJob:
    """Call off what of a kiln job has not begun, and book it as it now fits; its packing stays.

    Each load goes to whichever kiln of its studio is through with it first. All of it is booked, or all stays
    as it was. Raises NotAllowed, Over, NoStart where a load fits nowhere within six weeks, or
    PlanGone where too many moulds would be in kilns at once.
    """
    lock_all_of(job)
    job.refresh_from_db()
    if job.status != KilnJobStatus.BOOKED:
        raise Over(what=job.title, why=said("is not booked"))
    left = _left(job)
    require_booker(actor, list(dict.fromkeys(load.kiln.studio for load in left)))
    if not left:
        raise Over(what=job.title, why=said("has nothing left that has not begun"))
    release(job)
    again = _begun(job, actor)
    for load in left:
        _book(again, load)
    require_moulds(job)
    _settle(again, left)
    return job


def _left(job: KilnJob) -> list[Left]:
    """In the order of the route, and of the nights they had."""
    rows = sorted(to_come(job), key=lambda load: (load.job_step or 0, load.in_from, load.pk))
    return [
        Left(
            step=load.job_step or 1,
            kiln=load.firing.equipment,
            footprint_cm2=load.footprint_cm2,
            shared=load.firing.takes_more_until is not None,
            stands=tuple(load.stands.order_by("pk")),
        )
        for load in rows
    ]


def _begun(job: KilnJob, actor: Person) -> Again:
    """What is in a kiln comes out first; what has not come yet must arrive, and what is glued must dry."""
    again = Again(job=job, actor=actor)
    now = ceil_minutes(timezone.now())
    arrived = max(now, ceil_minutes(job.arrives_at) + again.route.first_after_min)
    again.free = dict.fromkeys(job.pieces.values_list("pk", flat=True), arrived)
    for load in job.loads.select_related("firing__occupancy").prefetch_related("stands").order_by("in_from"):
        out = max(now, ceil_minutes(load.firing.occupancy.ends_at))
        pieces = [stand.piece_id for stand in load.stands.all()]
        again.free.update(dict.fromkeys(pieces, out))
        step = again.route.firings[(load.job_step or 1) - 1]
        if step.cold_work and not _worked_cold(job, load):
            _work_cold(again, load.firing.equipment.studio, pieces, step)
    again.spare = list(job.steps.exclude(does=Handwork.COLD_WORK).order_by("starts_at"))
    return again


def _worked_cold(job: KilnJob, load: Load) -> bool:
    """Whether the cold work after a load is done, or under way."""
    after = job.steps.filter(does=Handwork.COLD_WORK, starts_at__gte=load.firing.last_in_at)
    return after.exists()


def _book(again: Again, load: Left) -> None:
    step = again.route.firings[load.step - 1]
    pieces = [stand.piece_id for stand in load.stands]
    since = again.free_from(pieces)
    world = _world(load.kiln.studio)
    needs = [each for each in step.before if each.does != Handwork.PREPARE_MOULDS or _in_moulds(load)]
    new = [each for each in needs if not _spared(again, each, since)]
    held = _first_through(world, again, load, since, new)
    if held is None:
        raise NoStart(
            sentence=said(
                "{what}: no kiln at {studio} can take a load of it within six weeks.",
                what=again.job.title,
                studio=load.kiln.studio.name,
            ),
            reasons=[],
        )
    for need in new:
        _wash(again, world, load, need, held.held.span[0])
    _write(again, load, held)
    again.free.update(dict.fromkeys(pieces, held.held.span[1]))
    if step.cold_work:
        _work_cold(again, load.kiln.studio, pieces, step)


def _world(studio: Studio) -> World:
    now = timezone.now()
    return never_waiting(load_world([studio], horizon_around(now, now + AHEAD)))


def _in_moulds(load: Left) -> bool:
    return any(stand.piece.size is not None and stand.piece.size.mould_id for stand in load.stands)


def _spared(again: Again, need: Before, since: int) -> bool:
    """Whether it has been done for the load that now comes first; nothing is washed twice."""
    for step in again.spare:
        dry = ceil_minutes(step.ends_at) + need.dry_min
        if step.does == need.does and dry <= since + need.dry_min and since <= dry + need.within_min:
            again.spare.remove(step)
            return True
    return False


def _first_through(
    world: World, again: Again, load: Left, since: int, needs: Sequence[Before]
) -> FiringHeld | None:
    """Of the kilns on whose shelves it stands as it was packed, the one that is unloaded first."""
    found = [_earliest(world, _ask(again.job, load, kiln), since, needs) for kiln in _kilns(load)]
    return min((held for held in found if held), key=lambda held: held.held.span[1], default=None)


def _kilns(load: Left) -> list[Equipment]:
    was = load.kiln
    rows = Equipment.objects.filter(
        studio=was.studio,
        kind=EquipmentKind.KILN,
        active=True,
        shelf_length_mm__gte=was.shelf_length_mm or 0,
        shelf_width_mm__gte=was.shelf_width_mm or 0,
        shelf_levels__gte=load.levels,
        capacity_cm2__gte=load.footprint_cm2,
        thermal_records__isnull=False,
    )
    return list(rows.distinct().order_by("number", "pk"))


def _ask(job: KilnJob, load: Left, kiln: Equipment) -> Ask:
    return bare_firing(
        title=job.title,
        studio_id=kiln.studio_id,
        kiln_id=kiln.pk,
        recipe=ROUTES[RouteName(job.route)].firings[load.step - 1].recipe,
        piece=flat_piece(glass_of(job.glass), job.thickness_mm),
        footprint_cm2=load.footprint_cm2,
    )


def _earliest(world: World, ask: Ask, since: int, needs: Sequence[Before]) -> FiringHeld | None:
    until = floor_minutes(timezone.now() + AHEAD)
    start = first_start(world, ask, since, until) if not needs else _after_washing(world, ask, since, needs)
    answer = None if start is None else place(world, ask, start)
    return answer.firings[0] if isinstance(answer, Placement) else None


def _after_washing(world: World, ask: Ask, since: int, needs: Sequence[Before]) -> int | None:
    """The first start by which everything is washed, and dry; nothing is washed in the past."""
    until, hours = floor_minutes(timezone.now() + AHEAD), world.studios[ask.studio_id].staffed[Duty.LOAD]
    ahead = intersect(hours, ((world.now, until),))
    fit = after_handwork(start_space(world, ask, since, until), needs, ahead)
    return fit[0][0] if fit else None


def _wash(again: Again, world: World, load: Left, need: Before, begin: int) -> None:
    hours = world.studios[load.kiln.studio_id].staffed[Duty.LOAD]
    span = latest_before(need, begin, hours, since=world.now, visited=())
    if span is None:
        raise AssertionError("a start after its handwork leaves room for it")
    JobStep.objects.create(
        job=again.job,
        does=need.does.value,
        studio=load.kiln.studio,
        starts_at=moment(span[0]),
        ends_at=moment(span[1]),
        pieces=len(load.stands),
    )


def _write(again: Again, load: Left, held: FiringHeld) -> None:
    row = write_job_firing(held, job=again.job, step=load.step, pieces=len(load.stands))
    if load.shared:
        row.firing.takes_more_until = moment(held.held.span[0])
        row.firing.save(update_fields=["takes_more_until"])
    for stand in load.stands:
        stand.pk, stand.load = None, row
    Stand.objects.bulk_create(load.stands)


def _work_cold(again: Again, studio: Studio, pieces: Sequence[int], step: FiringStep) -> None:
    """Cold work after a load, at whichever station of the studio is free first."""
    each = again.job.cold_min_each
    for part in cold_parts(pieces, each) if each and step.cold_work else ():
        world, since = _world(studio), again.free_from(part)
        held = _station(world, again.job, studio, each * len(part), since)
        booking = Booking.objects.create(studio=studio, booked_by=again.actor)
        for one in held.held:
            write_occupancy(one, booking=booking)
        write_change_overs(booking, held.change_overs)
        JobStep.objects.create(
            job=again.job,
            does=Handwork.COLD_WORK.value,
            studio=studio,
            equipment_id=held.held[0].apparatus_id,
            booking=booking,
            starts_at=moment(held.start),
            ends_at=moment(held.end),
            pieces=len(part),
        )
        again.free.update(dict.fromkeys(part, held.end))


def _station(world: World, job: KilnJob, studio: Studio, minutes: int, since: int) -> Placement:
    until, found = floor_minutes(timezone.now() + AHEAD), []
    stations = Equipment.objects.filter(studio=studio, kind=EquipmentKind.COLD_STATION, active=True)
    for station in stations.order_by("number", "pk"):
        ask = cold_work(title=job.title, studio_id=studio.pk, station_id=station.pk, minutes=minutes)
        start = first_start(world, ask, since, until)
        answer = None if start is None else place(world, ask, start)
        found.extend([answer] if isinstance(answer, Placement) else [])
    if not found:
        raise NoStart(
            sentence=said("{what}: no cold station is free within six weeks.", what=job.title), reasons=[]
        )
    return min(found, key=lambda placement: placement.start)


def _settle(again: Again, left: Sequence[Left]) -> None:
    """When all of it is ready now; its owner is told, and each studio notes it."""
    job = again.job
    job.ready_at = moment(max(again.free.values()))
    job.sequence, job.changed_at = job.sequence + 1, timezone.now()
    job.save(update_fields=["ready_at", "sequence", "changed_at"])
    here: dict[Studio, int] = defaultdict(int)
    for load in left:
        here[load.kiln.studio] += 1
    for studio, count in here.items():
        ready = when(job.ready_at, studio)
        tell(
            person=job.owner,
            subject=said("Planned anew: {what}", what=job.title),
            body=said(
                "{what} at {studio}: what had not begun is booked anew. All of it can be handed back from "
                "{when}.",
                what=job.title,
                studio=studio.name,
                when=ready,
            ),
        )
        noted = f"{job.title}: {count} firings anew, ready {ready}"
        audit.note(actor=again.actor, did="plan-anew", subject=job, studio=studio, said=noted)
