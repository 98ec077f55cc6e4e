"""Book, join, call off, reserve, give back, break down, in any order: the tables stay true."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from random import Random
from typing import Any

import pytest

from scheduling.models import BookingStatus, Seat, Session
from scheduling.selectors.options import Option, examine
from scheduling.services.booking import book_session
from scheduling.services.cancelling import cancel_session
from scheduling.services.moving import move_session
from scheduling.services.outages import enter_outage
from scheduling.services.rehearsing import rehearse_move
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.errors import LehrbookError
from tests.invariants import broken
from tests.services.test_moving import every_row
from tests.worlds import Town, add_course, local

pytestmark = pytest.mark.django_db
BLOWING = {"furnace": 1, "glory-hole": 1, "annealer": 1}


class Anyhow:
    """Somebody who does one thing after another without a plan."""

    def __init__(self, town: Town, seed: int) -> None:
        self.town, self.random, self.done = town, Random(seed), Counter[str]()

    def step(self) -> None:
        """One act; a refusal is an answer too."""
        often = [*[self.book] * 5, *[self.cancel] * 2, *[self.move] * 4]
        act = self.random.choice([*often, self.bench, self.seat, self.give_back, self.outage])
        try:
            act()
        except LehrbookError as error:
            self.done[error.code] += 1
        else:
            self.done[act.__name__] += 1

    def time(self) -> dt.datetime:
        """Some time on one of three days, one of them the eve of the change of clocks."""
        minute = self.random.choice([0, 7, 15, 30])
        return local(self.random.choice([1, 2, 5]), self.random.randrange(8, 22), minute)

    def book(self) -> None:
        """What is offered is booked, and what is refused is not offered."""
        course = self.random.choice(list(self.town.courses.values()))
        teacher = self.random.choice([self.town.instructor, self.town.other_instructor])
        what: dict[str, Any] = {
            "course": course,
            "studio": course.studios.get(),
            "instructor": teacher,
            "starts_at": self.time(),
        }
        offered = isinstance(examine(**what), Option)
        try:
            book_session(actor=teacher, **what)
        except LehrbookError:
            assert not offered, what
            raise
        assert offered, what

    def cancel(self) -> None:
        """A session that has not begun can always be called off."""
        booked = list(Session.objects.filter(status=BookingStatus.BOOKED).order_by("pk"))
        if booked:
            session = self.random.choice(booked)
            cancel_session(actor=session.instructor, session=session)
            self.done["a session less"] += 1

    def move(self) -> None:
        """A class goes where a rehearsal says that it can, and nowhere else; a refusal changes nothing."""
        booked = list(Session.objects.filter(status=BookingStatus.BOOKED).order_by("pk"))
        if not booked:
            return
        session, before = self.random.choice(booked), every_row()
        starts_at = self.random.choice([self.time(), session.starts_at])
        what: dict[str, Any] = {"actor": session.instructor, "session": session, "starts_at": starts_at}
        possible = isinstance(rehearse_move(**what).answer, Option)
        assert every_row() == before
        try:
            move_session(**what)
        except LehrbookError:
            assert not possible, what
            assert every_row() == before
            raise
        assert possible, what
        self.done["a session less"] += 1

    def bench(self) -> None:
        """A torch for an hour."""
        begin = self.time()
        reserve_bench_torch(
            actor=self.random.choice([self.town.student, self.town.other_student]),
            torch=self.random.choice(self.town.torches),
            starts_at=begin,
            ends_at=begin + dt.timedelta(hours=1),
        )

    def seat(self) -> None:
        """A seat in some class."""
        booked = list(Session.objects.order_by("pk"))
        if booked:
            reserve_class_seat(actor=self.town.student, session=self.random.choice(booked))

    def give_back(self) -> None:
        """A seat or torch less."""
        taken = list(Seat.objects.filter(status=BookingStatus.BOOKED).order_by("pk"))
        if taken:
            seat = self.random.choice(taken)
            cancel_seat(actor=seat.person, seat=seat)

    def outage(self) -> None:
        """Something breaks for half an hour."""
        begin = self.time()
        enter_outage(
            actor=self.town.technician,
            equipment=self.random.choice(list(self.town.equipment.values())),
            starts_at=begin,
            ends_at=begin + dt.timedelta(minutes=30),
            reason="broken",
        )


@pytest.mark.parametrize("seed", range(5))
def test_the_tables_stay_true_after_every_step(town: Town, seed: int) -> None:
    add_course(town, "short", town.hot_shop, "studio-96", BLOWING, minutes=40, thickness_mm=5.0)
    add_course(town, "other glass", town.hot_shop, "boro-33", BLOWING, minutes=75, setup_min=10)
    somebody = Anyhow(town, seed)

    for _ in range(40):
        somebody.step()
        assert broken(supplies=not somebody.done["a session less"]) == []

    assert somebody.done["book"] >= 5
    assert somebody.done["move"] >= 1
