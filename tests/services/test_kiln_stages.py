"""What of a kiln job has begun, and what is still asked of the kilns: piece by piece."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import Over
from scheduling.models import (
    ActualKind,
    Firing,
    JobStep,
    KilnJob,
    PieceState,
)
from scheduling.selectors.kiln_stages import needs_more
from scheduling.selectors.kiln_work import asked_of
from scheduling.services.actuals import record_actual
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_jobs import SizeAsked, step_done
from scheduling.services.pick_up import unload
from studios.models import Equipment, Mould
from tests.services.begun import (
    add_a_tile,
    asked,
    fused,
    fused_and_slumped,
    fused_and_worked,
    stages,
    taken_alone,
)
from tests.services.kiln_work import (
    a_job,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOURS_8 = 8 * 60


class TestAsked:
    def test_before_anything_has_begun_all_of_it_is_asked_in_a_world_without_it(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = fused_and_slumped(town, kiln)
        other = fused(town, kiln, local(9, 18), title="Others")

        world, question = asked(job)

        assert {(one.first, one.free, one.studio_id, one.unworked) for one in question.pieces} == {
            (0, None, None, False)
        }
        others = other.loads.get().firing.occupancy
        assert taken_alone(world, kiln) == [floor_minutes(others.starts_at)]
        uses = world.supplies[town.supplies["kiln feeder"].pk].uses
        assert {use.occupancy_id for use in uses} == {others.pk}
        assert question.done == ()

    def test_what_is_in_a_kiln_is_asked_from_when_it_is_out_and_at_that_studio(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))

        world, question = asked(job)

        fuse = job.loads.get(job_step=1).firing.occupancy
        out = ceil_minutes(fuse.ends_at)
        assert {(one.first, one.free, one.studio_id, one.unworked) for one in question.pieces} == {
            (1, out, town.flame.pk, False)
        }
        assert taken_alone(world, kiln) == [floor_minutes(fuse.starts_at)]

    def test_once_a_firing_runs_late_it_is_asked_from_then_and_never_from_before_now(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))
        firing = job.loads.get(job_step=1).firing
        record_actual(actor=town.technician, firing=firing, kind=ActualKind.LAST_IN, at=local(2, 8, 30))

        late = stages(job)[0].free
        clock.move_to(local(4, 20))

        assert late == ceil_minutes(Firing.objects.get(pk=firing.pk).occupancy.ends_at)
        assert stages(job)[0].free == ceil_minutes(local(4, 20))

    def test_cold_work_is_done_begun_or_still_to_be_done_piece_by_piece(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_worked(town, kiln)
        clock.move_to(local(4, 10, 30))

        world, question = asked(job)

        assert [one.unworked for one in question.pieces] == [False] * 3 + [True] * 3
        assert [one.first for one in question.pieces] == [1] * 6
        assert {one.free for one in question.pieces[:3]} == {floor_minutes(local(4, 11))}
        assert {one.free for one in question.pieces[3:]} == {floor_minutes(local(4, 10, 30))}
        assert taken_alone(world, town.equipment["saw"]) == [floor_minutes(local(4, 10))]

    def test_what_was_washed_is_good_for_a_week_in_its_kiln(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(1, 12))
        step_done(actor=town.technician, step=JobStep.objects.get())

        (done,) = asked(job)[1].done
        clock.move_to(local(2, 9))

        end = floor_minutes(local(1, 9, 15))
        assert (done.does, done.studio_id, done.kiln_id) == (Handwork.WASH_SHELVES, town.flame.pk, kiln.pk)
        assert (done.dry, done.until) == (end + HOURS_8, end + 7 * 24 * 60)
        assert asked(job)[1].done == ()

    def test_moulds_of_its_own_loads_to_come_are_free_for_it_and_for_nobody_else(
        self, town: Town, kiln: Equipment
    ) -> None:
        bowl = Mould.objects.create(studio=town.flame, name="bowl", count=3, length_mm=150, width_mm=150)
        sizes = [SizeAsked(count=2, length_mm=150, width_mm=150, mould=bowl)]
        job, other = fused_and_slumped(town, kiln, sizes=sizes), a_job(town, route="cast", sizes=sizes)

        own, others = stages(job)[0].mould, stages(other)[0].mould

        assert own is not None
        assert others is not None
        assert own.held == ()
        assert [count for _, count in others.held] == [2]

    def test_what_was_brought_stays_where_it_is_unless_other_studios_are_asked(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = fused_and_slumped(town, kiln, studios=[town.flame, town.hot_shop])
        job.pieces.filter(number=1).update(state=PieceState.HERE)

        assert [one.studio_id for one in stages(job)] == [town.flame.pk] + [None] * 5
        assert asked(job, studios=["hot-shop"])[1].pieces[0].studio_id is None

    def test_what_is_in_a_kiln_keeps_its_studio_among_those_that_are_asked(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))

        world, question = asked(job, studios=["hot-shop"])

        assert set(world.studios) == {town.flame.pk, town.hot_shop.pk}
        assert [each.kiln_id for each in question.kilns] == [kiln.pk]

    def test_pieces_that_are_ready_need_nothing_more_and_those_more_in_a_what_if_everything(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused(town, kiln, local(1, 18))
        clock.move_to(local(3, 12))
        firing = job.loads.get().firing
        unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), "shelf 1"))

        question = asked(job, more_pieces=1)[1]

        assert [(one.first, one.unworked) for one in question.pieces] == [(1, False)] * 6 + [(0, False)]
        assert not needs_more(job)
        with pytest.raises(Over, match="nothing left that has not begun"):
            seek(actor=town.instructor, job=job)

    def test_the_place_of_others_in_a_shared_firing_stays_taken(self, town: Town, kiln: Equipment) -> None:
        job = fused(town, kiln, local(1, 18), shares_space=True)
        firing = job.loads.get().firing
        add_a_tile(town, firing)

        world, _ = asked(job)

        assert taken_alone(world, kiln) == [floor_minutes(firing.occupancy.starts_at)]

    def test_what_was_added_to_a_slump_of_others_is_not_fused_again(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = fused_and_slumped(town, kiln, shares_space=True)
        guest = add_a_tile(town, job.loads.get(job_step=2).firing)

        assert [one.first for one in stages(guest)] == [1]

    def test_it_takes_as_many_queries_however_much_has_begun(
        self,
        town: Town,
        kiln: Equipment,
        clock: time_machine.Traveller,
        django_assert_max_num_queries: Any,
    ) -> None:
        job = fused_and_worked(town, kiln)
        clock.move_to(local(4, 10, 30))
        fresh = KilnJob.objects.get(pk=job.pk)

        with django_assert_max_num_queries(40):
            asked_of(fresh)
