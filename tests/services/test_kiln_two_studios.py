"""A kiln job that is fired at two studios: each has its own time, and tells its own people."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.models import (
    AuditEntry,
    KilnJob,
    Message,
)
from scheduling.selectors.kiln_ready import handed_back
from scheduling.selectors.pieces import studio_of
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.pick_up import unload
from scheduling.wording import when
from studios.models import Equipment
from tests.invariants import broken
from tests.services.begun import (
    anew,
    sought,
)
from tests.services.kiln_work import (
    a_job,
    answered,
    far_kiln,
    load_at,
    split_plan,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOURS_8 = 8 * 60


class TestAtTwoStudios:
    @pytest.fixture
    def far(self, town: Town) -> Equipment:
        return far_kiln(town)

    def split(self, town: Town, kiln: Equipment, far: Equipment) -> KilnJob:
        job = a_job(town, studios=[town.flame, town.hot_shop])
        return book(actor=town.instructor, answer=answered(job, split_plan(job, kiln, far)))

    def test_each_studio_has_its_own_time_in_the_message_and_the_audit(
        self, town: Town, kiln: Equipment, far: Equipment
    ) -> None:
        job = self.split(town, kiln, far)

        said = Message.objects.get(person=town.instructor, subject="Booked: Fair dishes").body
        here, there = handed_back(job)
        assert (here.studio, here.pieces, there.studio, there.pieces) == (town.flame, 4, town.hot_shop, 2)
        assert job.ready_at == there.at > here.at
        assert f"4 pieces can be handed back at Flame from {when(here.at, town.flame)}." in said
        assert f"2 pieces can be handed back at Hot shop from {when(there.at, town.hot_shop)}." in said
        noted = AuditEntry.objects.filter(did="book", subject=job.uid)
        assert {entry.studio for entry in noted} == {town.flame, town.hot_shop}

    def test_its_makers_are_told_at_each_studio_when_the_last_of_theirs_there_is_ready(
        self, town: Town, kiln: Equipment, far: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.split(town, kiln, far)
        for load, day in zip(job.loads.order_by("in_from"), (3, 5), strict=True):
            clock.move_to(local(day, 12))
            unload(actor=town.technician, firing=load.firing, shelves={load: f"shelf {day}"})

        bodies = list(Message.objects.filter(subject__startswith="To be collected").order_by("pk"))
        assert ["at Flame" in bodies[0].body, "at Hot shop" in bodies[1].body] == [True, True]
        assert len(bodies) == 2
        assert studio_of(job.pieces.get(number=1)) == town.flame
        assert studio_of(job.pieces.get(number=6)) == town.hot_shop

    def test_planned_anew_at_one_studio_the_other_notes_what_it_gave_up(
        self, town: Town, kiln: Equipment, far: Equipment
    ) -> None:
        job = self.split(town, kiln, far)

        anew(town, job, load_at(job, kiln, local(5, 18)))

        assert [load.firing.equipment for load in job.loads.all()] == [kiln]
        noted = AuditEntry.objects.filter(did="plan-anew", subject=job.uid)
        assert {(entry.studio, entry.said.partition(",")[0]) for entry in noted} == {
            (town.flame, "Fair dishes: 1 firings"),
            (town.hot_shop, "Fair dishes: 0 firings"),
        }
        assert broken() == []

    @pytest.mark.usefixtures("kiln", "far")
    def test_whole_way_pieces_are_parted_and_the_rest_is_planned_anew_where_it_lies(
        self, town: Town, clock: time_machine.Traveller
    ) -> None:
        sizes = [SizeAsked(count=4, length_mm=430, width_mm=330)]
        job = a_job(town, sizes=sizes, studios=[town.flame, town.hot_shop], route="fuse-slump")

        book(actor=town.instructor, answer=sought(town, job))
        fired_at = {piece.pk: studio_of(piece) for piece in job.pieces.all()}
        first = job.loads.filter(job_step=1).latest("firing__occupancy__starts_at")
        clock.move_to(first.firing.occupancy.starts_at + dt.timedelta(minutes=1))
        book(actor=town.instructor, answer=sought(town, job))

        assert set(fired_at.values()) == {town.flame, town.hot_shop}
        assert {piece.pk: studio_of(piece) for piece in job.pieces.all()} == fired_at
        assert broken() == []
