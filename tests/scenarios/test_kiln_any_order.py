"""Ask, book, add, call off, break down, plan anew, load, unload, hand over, in any order: all stays true."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from random import Random
from typing import Any

import pytest
import time_machine
from django.db.models import QuerySet
from django.utils import timezone

from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.kiln_work.bare import bare_firing, flat_piece
from scheduling.engine.kiln_work.routes import ROUTES, Handwork, RouteName
from scheduling.engine.startspace.space import first_start
from scheduling.models import (
    ActualKind,
    BookingStatus,
    Firing,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Piece,
    PieceState,
)
from scheduling.services.actuals import record_actual, strike_actual
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import SizeAsked, arrived, step_done
from scheduling.services.open_shelves import add_pieces
from scheduling.services.outages import enter_outage
from scheduling.services.pick_up import unload
from scheduling.services.pieces import damaged, hand_over, take_back
from scheduling.snapshot import glass_of, horizon_around, load_world
from studios.errors import LehrbookError
from studios.models import Equipment
from tests.invariants import broken
from tests.services.kiln_work import (
    CM2_EACH,
    a_job,
    answered,
    by_hand,
    load_at,
    planned,
    second_kiln,
    with_shelves,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
STEPS = 30


class Anyhow:
    """A studio where everybody does one thing after another without a plan, and the days go by."""

    def __init__(self, town: Town, clock: time_machine.Traveller, seed: int) -> None:
        self.town, self.clock, self.random, self.done = town, clock, Random(seed), Counter[str]()
        self.kilns = [with_shelves(town), second_kiln(town)]

    def step(self) -> None:
        """One act; a refusal is an answer too."""
        often = [*[self.ask] * 3, *[self.book] * 4, *[self.load] * 2, *[self.unload] * 4, self.go_on]
        rare = [
            self.add,
            self.call_off,
            self.break_down,
            self.plan_anew,
            self.strike,
            self.lose,
            self.give_back,
        ]
        act = self.random.choice([*often, *rare, *[self.see_to] * 2, *[self.hand_over] * 2])
        try:
            act()
        except LehrbookError as error:
            self.done[error.code] += 1
        else:
            self.done[act.__name__] += 1

    def ask(self) -> None:
        count = self.random.randrange(1, 6)
        sizes = [SizeAsked(count=count, length_mm=150, width_mm=150, makers=(self.town.student,))]
        route = self.random.choice(["fuse", "fuse-slump"])
        shares = self.random.random() < 0.5
        job = a_job(self.town, route=route, sizes=sizes, arrives_at=timezone.now(), shares_space=shares)
        if self.random.random() < 0.5:
            arrived(actor=self.town.instructor, job=job, place="table")

    def book(self) -> None:
        for job in self._some(KilnJob.objects.filter(status=KilnJobStatus.ASKED)):
            since, loads, handwork = timezone.now() + dt.timedelta(hours=self.random.randrange(1, 30)), [], []
            for step in range(1, len(ROUTES[RouteName(job.route)].firings) + 1):
                kiln = self.random.choice(self.kilns)
                load = load_at(job, kiln, self._first(job, kiln, since, step), step=step)
                loads.append(load)
                since = moment(load.done) + dt.timedelta(hours=1)
            if self.random.random() < 0.4:
                saw = self.town.equipment["saw"]
                at = moment(loads[-1].done).replace(hour=18) + dt.timedelta(days=1)
                handwork.append(by_hand(loads[-1], Handwork.COLD_WORK, at, 60, saw))
            book(actor=self.town.instructor, answer=answered(job, planned(*loads, handwork=handwork)))

    def _first(self, job: KilnJob, kiln: Equipment, since: dt.datetime, step: int) -> dt.datetime:
        ask = bare_firing(
            title=job.title,
            studio_id=kiln.studio_id,
            kiln_id=kiln.pk,
            recipe=ROUTES[RouteName(job.route)].firings[step - 1].recipe,
            piece=flat_piece(glass_of(job.glass), job.thickness_mm),
            footprint_cm2=CM2_EACH * job.pieces.count(),
        )
        begin = floor_minutes(since)
        start = first_start(
            load_world([kiln.studio], horizon_around(since)), ask, begin, begin + 30 * 24 * 60
        )
        assert start is not None
        return moment(start)

    def add(self) -> None:
        for firing in self._some(Firing.objects.filter(takes_more_until__isnull=False)):
            sizes = [SizeAsked(count=self.random.randrange(1, 3), length_mm=110, width_mm=80)]
            glass = self.town.glasses["fusing-90"]
            add_pieces(
                actor=self.town.other_student, firing=firing, sizes=sizes, glass=glass, thickness_mm=6.0
            )

    def call_off(self) -> None:
        for job in self._some(KilnJob.objects.all()):
            cancel(actor=self.town.manager, job=job)

    def break_down(self) -> None:
        begins = timezone.now() + dt.timedelta(days=self.random.randrange(1, 5))
        enter_outage(
            actor=self.town.technician,
            equipment=self.random.choice(self.kilns),
            starts_at=begins,
            ends_at=begins + dt.timedelta(hours=self.random.randrange(4, 80)),
            reason="element",
        )

    def plan_anew(self) -> None:
        for job in self._some(KilnJob.objects.filter(status=KilnJobStatus.BOOKED)):
            answer = seek(actor=self.town.instructor, job=job)
            if answer.plan is not None:
                book(actor=self.town.instructor, answer=answer)

    def go_on(self) -> None:
        self.clock.shift(dt.timedelta(hours=self.random.randrange(1, 40)))

    def load(self) -> None:
        """Loading is recorded when it was to be, or somewhat late."""
        for firing in self._some(self._standing().filter(actuals__isnull=True)):
            late = dt.timedelta(minutes=self.random.choice([0, 10, 90]))
            self._until(firing.at_hold_at + late)
            record_actual(
                actor=self.town.technician,
                firing=firing,
                kind=ActualKind.LAST_IN,
                at=firing.at_hold_at + late,
            )

    def unload(self) -> None:
        for firing in self._some(self._standing()):
            self._until(firing.unload_at)
            unload(
                actor=self.town.technician,
                firing=firing,
                shelves=dict.fromkeys(firing.loads.all(), "shelf 1"),
            )

    def strike(self) -> None:
        for firing in self._some(
            Firing.objects.filter(actuals__struck_at__isnull=True, actuals__isnull=False)
        ):
            actual = firing.actuals.filter(struck_at__isnull=True).latest("at", "pk")
            strike_actual(actor=self.town.technician, actual=actual)

    def see_to(self) -> None:
        for step in self._some(JobStep.objects.filter(done_at__isnull=True)):
            step_done(actor=self.town.technician, step=step)

    def hand_over(self) -> None:
        for piece in self._some(Piece.objects.filter(state=PieceState.READY)):
            hand_over(actor=self.town.technician, pieces=[piece])

    def give_back(self) -> None:
        for piece in self._some(Piece.objects.filter(state=PieceState.HANDED_OVER)):
            take_back(actor=self.town.technician, piece=piece, place="shelf 2")

    def lose(self) -> None:
        for piece in self._some(Piece.objects.all()):
            damaged(actor=self.town.technician, piece=piece, damage="fell", lost=True)

    def _standing(self) -> QuerySet[Firing]:
        return Firing.objects.filter(status=BookingStatus.BOOKED, unloaded_at__isnull=True)

    def _until(self, at: dt.datetime) -> None:
        if at > timezone.now():
            self.clock.move_to(at)

    def _some(self, rows: QuerySet[Any]) -> list[Any]:
        found = list(rows.order_by("pk").distinct())
        return [self.random.choice(found)] if found else []


@pytest.mark.parametrize("seed", range(8))
def test_whatever_is_done_in_whatever_order_the_tables_stay_true(town: Town, seed: int) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        anyhow = Anyhow(town, clock, seed)
        for _ in range(STEPS):
            anyhow.step()

            # An outage over a firing is for whoever plans anew, and what runs late may draw beside others.
            assert broken(supplies=False) == [], anyhow.done

    assert anyhow.done["book"] > 0, anyhow.done
