"""How far a kiln job is: what of it has begun, what could still be planned anew, and what each piece needs.

loads, steps --begun?--> Standing --> of each piece the next firing, from when on, and where
                                  --> what is washed and prepared already
                                  --> what is free again once the rest is given up
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from scheduling.engine.clock import ceil_minutes
from scheduling.engine.kiln_work.asked import HandDone
from scheduling.engine.kiln_work.routes import MOULDS, ROUTES, WASH, Handwork, Route, RouteName
from scheduling.models import JobStep, KilnJob, Load, Piece, PieceState
from scheduling.selectors.pieces import pieces_to_fire

BEFORE = {need.does: need for need in (WASH, MOULDS)}


@dataclass(frozen=True, kw_only=True)
class Stage:
    """How far a piece is, as `PieceAsked` says it."""

    first: int = 0
    free: int | None = None
    studio_id: int | None = None
    unworked: bool = False


@dataclass(frozen=True, kw_only=True)
class Standing:
    """The loads and the handwork of a kiln job: what has begun or is done, and what is still to come."""

    job: KilnJob
    now: dt.datetime
    begun: tuple[Load, ...]
    to_come: tuple[Load, ...]
    steps: tuple[JobStep, ...]
    steps_to_come: tuple[JobStep, ...]

    @property
    def route(self) -> Route:
        return ROUTES[RouteName(self.job.route)]

    @cached_property
    def fired(self) -> dict[int, Load]:
        """Of each piece the load in which it was, or is, last."""
        loads = sorted(self.begun, key=lambda load: load.job_step or 0)
        return {stand.piece_id: load for load in loads for stand in load.stands.all()}

    @cached_property
    def waits_for(self) -> dict[int, Load]:
        """Of each piece the load that it would go into next."""
        loads = sorted(self.to_come, key=lambda load: load.job_step or 0, reverse=True)
        return {stand.piece_id: load for load in loads for stand in load.stands.all()}

    @property
    def loads_given_up(self) -> frozenset[int]:
        """The loads that are taken out once the rest is planned anew."""
        return frozenset(load.pk for load in self.to_come)

    @property
    def freed(self) -> frozenset[int]:
        """The occupancies that end with what has not begun; others' pieces keep the kiln that they share."""
        firings = {load.firing.occupancy.pk for load in self.to_come if not load.shared}  # type: ignore[attr-defined]
        booked = [step.booking for step in self.steps_to_come if step.booking is not None]
        return frozenset(firings | {row.pk for booking in booked for row in booking.occupancies.all()})

    def stage(self, piece: Piece, studios: Collection[int] | None = None) -> Stage:
        """What a piece still needs. Where it was brought it stays, if that is one of the `studios`."""
        load, coming = self.fired.get(piece.pk), self.waits_for.get(piece.pk)
        if load is None:
            # What was added to a firing of others may have been fused elsewhere before.
            first = (coming.job_step or 1) - 1 if coming is not None else 0
            return Stage(first=first, studio_id=self._studio(piece, coming, studios))
        worked = self._worked(piece, load)
        step = self.route.firings[(load.job_step or 1) - 1]
        over = piece.state == PieceState.READY
        ends = [self.now, load.firing.occupancy.ends_at, *worked]
        return Stage(
            first=len(self.route.firings) if over else load.job_step or 1,
            free=max(ceil_minutes(end) for end in ends),
            studio_id=load.firing.equipment.studio_id,
            unworked=not over and step.cold_work and self.job.cold_min_each > 0 and not worked,
        )

    def studio_of_moulds(self, piece: Piece) -> int | None:
        """What sinks into a mould is fired where that is."""
        mould = piece.size.mould if piece.size is not None else None
        sinks = mould is not None and any(step.in_moulds for step in self.route.firings)
        return mould.studio_id if mould is not None and sinks else None

    def _studio(self, piece: Piece, coming: Load | None, studios: Collection[int] | None) -> int | None:
        """Its moulds decide; else it lies where it was brought."""
        brought = coming is not None and piece.state == PieceState.HERE
        here = coming.firing.equipment.studio_id if coming is not None and brought else None
        return self.studio_of_moulds(piece) or (here if studios is None or here in studios else None)

    def _worked(self, piece: Piece, load: Load) -> list[dt.datetime]:
        """When the cold work on a piece after a load was done, or will be, since it has begun."""
        cold = (step for step in self.steps if step.does == Handwork.COLD_WORK)
        return [ended(step) for step in cold if works_on(step, load, piece)]

    @property
    def spare(self) -> Iterator[tuple[JobStep, HandDone]]:
        """What is washed or prepared for loads that have not begun.

        Where pieces of others stay in the kiln, its shelves are washed for them.
        """
        kilns = {load.pk: load.firing.equipment_id for load in self.to_come if not load.shared}  # type: ignore[attr-defined]
        for step in self.steps:
            if step.does in BEFORE and step.load_id in kilns:
                yield step, _done(step, kilns[step.load_id])


def _done(step: JobStep, kiln_id: int) -> HandDone:
    does, end = Handwork(step.does), ceil_minutes(ended(step))
    return HandDone(
        does=does,
        studio_id=step.studio_id,
        kiln_id=kiln_id if does is Handwork.WASH_SHELVES else None,
        dry=end + BEFORE[does].dry_min,
        until=end + BEFORE[does].within_min,
    )


def ended(step: JobStep) -> dt.datetime:
    """Handwork that was ticked before its hour is over was over by then."""
    return step.ends_at if step.done_at is None else min(step.done_at, step.ends_at)


def works_on(step: JobStep, load: Load, piece: Piece) -> bool:
    """Whether cold work follows a load, and is on a piece of it.

    An older row knows neither: it follows what was in the kiln before it, and is on all of that.
    """
    follows = step.load_id == load.pk if step.load_id is not None else step.starts_at > load.in_until
    of = {each.pk for each in step.of.all()} if follows else set()
    return follows and (not of or piece.pk in of)


def standing_of(job: KilnJob) -> Standing:
    """A kiln job as it stands, in as many queries however much of it there is."""
    now = timezone.now()
    coming = to_come(job)
    begun = _loads(job).exclude(pk__in=[load.pk for load in coming])
    steps = _steps(job)
    left = [step for step in steps if step.done_at is None and step.starts_at > now]
    return Standing(
        job=job,
        now=now,
        begun=tuple(begun),
        to_come=tuple(coming),
        steps=tuple(step for step in steps if step not in left),
        steps_to_come=tuple(left),
    )


def to_come(job: KilnJob) -> list[Load]:
    """Its loads that nobody has begun to put in."""
    return list(
        _loads(job).filter(firing__occupancy__starts_at__gt=timezone.now(), firing__actuals__isnull=True)
    )


def _loads(job: KilnJob) -> QuerySet[Load]:
    """With their firings, and whether anything of others is in it."""
    others = Load.objects.filter(firing=OuterRef("firing")).exclude(pk=OuterRef("pk"))
    rows = job.loads.select_related("firing__equipment__studio", "firing__occupancy")
    return rows.annotate(shared=Exists(others)).prefetch_related("stands").order_by("in_from", "pk")


def _steps(job: KilnJob) -> list[JobStep]:
    rows = job.steps.select_related("booking", "studio").prefetch_related("of", "booking__occupancies")
    return list(rows.order_by("starts_at", "pk"))


def needs_more(job: KilnJob) -> bool:
    """Whether a piece of it still needs a firing, or cold work, that has not begun."""
    standing = standing_of(job)
    return any(_unfinished(standing, piece) for piece in pieces_to_fire(job))


def _unfinished(standing: Standing, piece: Piece) -> bool:
    stage = standing.stage(piece)
    return stage.unworked or stage.first < len(standing.route.firings)
