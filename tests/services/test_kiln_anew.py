"""A kiln breaks, or runs late: what of a kiln job has not begun is sought anew, and booked in its place."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import Any

import pytest
import time_machine

from scheduling.engine.clock import ceil_minutes, floor_minutes
from scheduling.engine.kiln_work.answers import HandworkPlanned, LoadPlanned, WorkPlanned, from_json
from scheduling.engine.kiln_work.asked import PieceAsked, WorkAsked
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.engine.world import World
from scheduling.errors import NotAllowed, NotYours, Over, PlanGone
from scheduling.models import (
    ActualKind,
    AuditEntry,
    BookingStatus,
    Firing,
    JobStep,
    KilnAnswer,
    KilnJob,
    Message,
    Occupancy,
    Outage,
    PieceState,
    Stand,
)
from scheduling.selectors.broken import What, broken_by
from scheduling.selectors.kiln_next import in_the_way
from scheduling.selectors.kiln_ready import handed_back
from scheduling.selectors.kiln_stages import needs_more
from scheduling.selectors.kiln_work import asked_of
from scheduling.selectors.pieces import studio_of
from scheduling.services.actuals import record_actual
from scheduling.services.kiln_answers import seek, set_out_later
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import SizeAsked, step_done
from scheduling.services.open_shelves import add_pieces
from scheduling.services.outages import enter_outage
from scheduling.services.pick_up import unload
from scheduling.services.repairing import broken_with_repairs
from scheduling.wording import when
from studios.models import Equipment, Mould
from tests.invariants import broken
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    far_kiln,
    load_at,
    planned,
    second_kiln,
    split_plan,
    with_shelves,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOURS_8 = 8 * 60


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(local(0, 9), tick=False) as moved:
        yield moved


@pytest.fixture
def kiln(town: Town, clock: time_machine.Traveller) -> Equipment:
    return with_shelves(town)


def fused_and_slumped(town: Town, kiln: Equipment, **facts: Any) -> KilnJob:
    """Six dishes: shelves are washed on Tuesday, they are fused that night and slumped from Saturday."""
    job = a_job(town, route="fuse-slump", **facts)
    fuse, slump = load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(5, 18), step=2)
    wash = by_hand(fuse, Handwork.WASH_SHELVES, local(1, 9), 15)
    return booked(job, fuse, slump, actor=town.instructor, handwork=[wash])


def fused(town: Town, kiln: Equipment, at: dt.datetime, **facts: Any) -> KilnJob:
    """Six dishes, fused in one load."""
    job = a_job(town, **facts)
    return booked(job, load_at(job, kiln, at), actor=town.instructor)


def fused_and_worked(town: Town, kiln: Equipment, **facts: Any) -> KilnJob:
    """Six dishes fused from Tuesday; on Friday and on Monday three each are worked at the saw."""
    job = a_job(town, cold_min_each=20, **facts)
    fuse, saw = load_at(job, kiln, local(1, 18)), town.equipment["saw"]
    cold = [
        by_hand(fuse, Handwork.COLD_WORK, local(day, 10), 60, saw, of=of)
        for day, of in ((4, (0, 1, 2)), (7, (3, 4, 5)))
    ]
    return booked(job, fuse, actor=town.instructor, handwork=cold)


def breaks(town: Town, kiln: Equipment, day: int, until: int) -> Outage:
    hours = {"starts_at": local(day, 8), "ends_at": local(until, 8)}
    return enter_outage(actor=town.technician, equipment=kiln, reason="element burnt out", **hours)


def asked(job: KilnJob, **what_if: Any) -> tuple[World, WorkAsked]:
    return asked_of(KilnJob.objects.get(pk=job.pk), what_if)


def stages(job: KilnJob) -> list[PieceAsked]:
    return list(asked(job)[1].pieces)


def sought(town: Town, job: KilnJob, **facts: Any) -> KilnAnswer:
    """What is found for it now; it has a plan."""
    answer = seek(actor=town.instructor, job=KilnJob.objects.get(pk=job.pk), **facts)
    assert answer.plan is not None, answer.refusal
    return answer


def plan_of(answer: KilnAnswer) -> WorkPlanned:
    return from_json(answer.plan or {})


def anew(town: Town, job: KilnJob, *loads: LoadPlanned, handwork: Sequence[HandworkPlanned] = ()) -> KilnJob:
    """A plan that is laid by hand is booked in place of what has not begun."""
    job.refresh_from_db()
    return book(actor=town.instructor, answer=answered(job, planned(*loads, handwork=handwork)))


def held() -> list[tuple[Any, ...]]:
    """Everything that is in the book of it."""
    taken = Occupancy.objects.order_by("pk").values_list("pk", "equipment", "starts_at", "ends_at")
    steps = JobStep.objects.order_by("pk").values_list("pk", "load", "starts_at")
    stands = Stand.objects.order_by("pk").values_list("pk", "load", "piece")
    jobs = KilnJob.objects.order_by("pk").values_list("status", "ready_at", "sequence")
    return [*taken, *steps, *stands, *jobs, (Message.objects.count(), AuditEntry.objects.count())]


def taken_alone(world: World, kiln: Equipment) -> list[int]:
    return [claim.span[0] for claim in world.taken.get(kiln.pk, ()) if not claim.outage]


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


def add_a_tile(town: Town, firing: Firing) -> KilnJob:
    sizes = [SizeAsked(count=1, length_mm=110, width_mm=80)]
    glass = town.glasses["fusing-90"]
    return add_pieces(actor=town.other_student, firing=firing, sizes=sizes, glass=glass, thickness_mm=6.0)


class TestBooked:
    def test_what_an_outage_breaks_is_listed_with_its_job(self, town: Town, kiln: Equipment) -> None:
        job = fused_and_slumped(town, kiln)
        outage = breaks(town, kiln, 5, 9)

        (found,) = broken_by(outage)
        (with_repair,) = broken_with_repairs(actor=town.technician, outage=outage)

        assert (found.what, found.job, found.session) == (What.FIRING, job, None)
        assert found.title == "Firing of Fair dishes"
        assert with_repair.repair is not None
        assert "Plan what has not begun of Fair dishes anew" in with_repair.repair.sentence

    def test_a_saw_that_is_out_of_use_then_is_in_the_way_too(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_worked(town, kiln)
        clock.move_to(local(3, 12))

        breaks(town, town.equipment["saw"], 5, 6)
        beside = in_the_way(job)
        breaks(town, town.equipment["saw"], 7, 9)

        assert (beside, in_the_way(job)) == (False, True)

    def test_a_load_under_way_stays_and_the_next_goes_where_the_new_plan_has_it(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), fused_and_slumped(town, kiln)
        before, fuse = job.sequence, job.loads.get(job_step=1)
        clock.move_to(local(2, 9))
        breaks(town, kiln, 3, 30)

        anew(town, job, load_at(job, other, local(4, 18), step=2))

        slump = job.loads.get(job_step=2)
        assert job.loads.get(job_step=1) == fuse
        assert (slump.firing.equipment, slump.firing.occupancy.starts_at) == (other, local(4, 18))
        assert slump.stands.count() == 6
        assert Firing.objects.filter(status=BookingStatus.BOOKED).count() == 2
        assert (job.ready_at, job.sequence) == (slump.firing.occupancy.ends_at, before + 1)
        said = Message.objects.get(person=town.instructor, subject="Planned anew: Fair dishes").body
        assert "what had not begun is booked anew" in said
        assert "kiln 2 at Flame: loaded at Fri 7 Mar 2031, 18:00 CST" in said
        assert AuditEntry.objects.filter(did="plan-anew", subject=job.uid, studio=town.flame).count() == 1
        assert broken() == []

    def test_what_stays_longer_than_the_plan_decides_when_all_is_ready(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), a_job(town)
        kiln.clear_min = 300
        kiln.save()
        five, last = (
            load_at(job, kiln, local(1, 18), pieces=range(5)),
            load_at(job, other, local(5, 18), pieces=[5]),
        )
        booked(job, five, last, actor=town.instructor)
        clock.move_to(local(1, 18, 30))

        anew(town, job, load_at(job, other, local(1, 19), pieces=[5]))

        stays, new = (job.loads.get(firing__equipment=each).firing.occupancy for each in (kiln, other))
        assert stays.ends_at > new.ends_at
        assert job.ready_at == stays.ends_at

    def test_whole_way_round_an_outage(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))
        breaks(town, kiln, 3, 30)

        answer = sought(town, job)
        book(actor=town.instructor, answer=answer)

        (planned_load,) = plan_of(answer).loads
        fuse, slump = Firing.objects.filter(status=BookingStatus.BOOKED).order_by("last_in_at")
        assert planned_load.step == 2
        assert (fuse.equipment, fuse.occupancy.starts_at) == (kiln, local(1, 18))
        assert slump.equipment == other
        assert slump.occupancy.starts_at >= fuse.occupancy.ends_at
        assert broken() == []

    def test_whole_way_shelves_that_are_washed_serve_the_new_load(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(1, 10))
        wash = step_done(actor=town.technician, step=JobStep.objects.get())
        breaks(town, kiln, 1, 3)

        answer = sought(town, job)
        book(actor=town.instructor, answer=answer)

        fuse = job.loads.get(job_step=1)
        wash.refresh_from_db()
        assert [work.does for work in plan_of(answer).handwork if work.does is Handwork.WASH_SHELVES] == []
        assert fuse.firing.occupancy.starts_at >= local(3, 8)
        assert wash.load == fuse
        assert job.steps.filter(does="wash-shelves").get() == wash
        assert broken() == []

    def test_shelves_of_another_kiln_are_washed_for_it(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        second_kiln(town)
        job = fused_and_slumped(town, kiln)
        clock.move_to(local(1, 10))
        step_done(actor=town.technician, step=JobStep.objects.get())
        breaks(town, kiln, 1, 30)

        book(actor=town.instructor, answer=sought(town, job))

        fuse, washes = job.loads.get(job_step=1), job.steps.filter(does="wash-shelves").order_by("pk")
        assert [wash.load for wash in washes] == [None, fuse]
        assert washes[1].ends_at + dt.timedelta(hours=8) <= fuse.firing.occupancy.starts_at
        assert broken() == []

    def test_whole_way_cold_work_between_two_firings_follows_them(self, town: Town, kiln: Equipment) -> None:
        job = a_job(town, route="fuse-slump", cold_min_each=15)
        fuse, slump = load_at(job, kiln, local(2, 18)), load_at(job, kiln, local(6, 18), step=2)
        cold = by_hand(fuse, Handwork.COLD_WORK, local(5, 10), 90, town.equipment["saw"])
        booked(job, fuse, slump, actor=town.instructor, handwork=[cold])
        breaks(town, kiln, 2, 8)

        book(actor=town.instructor, answer=sought(town, job))

        step = JobStep.objects.get(does="cold-work")
        first, second = (job.loads.get(job_step=nth) for nth in (1, 2))
        assert first.firing.occupancy.ends_at <= step.starts_at
        assert step.ends_at <= second.firing.occupancy.starts_at
        assert step.load == first
        assert set(step.of.all()) == set(job.pieces.all())
        assert Occupancy.objects.filter(equipment=town.equipment["saw"]).count() == 1
        assert broken() == []

    def test_whole_way_only_the_cold_work_that_is_left(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job, saw = fused_and_worked(town, kiln), town.equipment["saw"]
        clock.move_to(local(4, 10, 30))
        breaks(town, saw, 7, 9)

        answer = sought(town, job)
        book(actor=town.instructor, answer=answer)

        begun, left = job.steps.order_by("starts_at")
        assert plan_of(answer).loads == ()
        assert begun.starts_at == local(4, 10)
        assert {piece.number for piece in left.of.all()} == {4, 5, 6}
        assert left.load == job.loads.get()
        assert not local(7, 8) <= left.starts_at < local(9, 8)
        assert KilnJob.objects.get().ready_at == max(left.ends_at, begun.ends_at)
        assert broken() == []

    def test_others_stay_in_the_firing_that_its_host_leaves(self, town: Town, kiln: Equipment) -> None:
        other = second_kiln(town)
        job = fused(town, kiln, local(1, 18), shares_space=True)
        firing = job.loads.get().firing
        guest = add_a_tile(town, firing)

        anew(town, job, load_at(job, other, local(2, 18)))

        assert guest.loads.get().firing == firing
        assert Firing.objects.get(pk=firing.pk).status == BookingStatus.BOOKED
        mine = job.loads.get().firing
        assert (mine.equipment, mine.takes_more_until) == (other, local(2, 18))
        assert broken() == []

    def test_of_two_who_plan_anew_at_once_the_second_seeks_again(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))
        answers = [
            answered(job, planned(load_at(job, which, local(day, 18), step=2)))
            for which, day in ((other, 4), (other, 6))
        ]
        clock.shift(60)
        book(actor=town.instructor, answer=answers[0])
        before = held()

        with pytest.raises(Over, match="has changed since this was found"):
            book(actor=town.technician, answer=answers[1])

        assert held() == before
        assert job.loads.get(job_step=2).firing.occupancy.starts_at == local(4, 18)

    def test_where_it_is_refused_all_stays_as_it_was(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), fused_and_slumped(town, kiln)
        clock.move_to(local(2, 9))
        answer = answered(job, planned(load_at(job, other, local(4, 18), step=2)))
        breaks(town, other, 5, 6)
        before = held()

        with pytest.raises(PlanGone, match="element burnt out"):
            book(actor=town.instructor, answer=answer)

        assert held() == before

    def test_what_has_begun_since_is_sought_again(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        other, job = second_kiln(town), fused_and_slumped(town, kiln)
        plan = planned(load_at(job, other, local(2, 18)), load_at(job, other, local(6, 18), step=2))
        answer = answered(job, plan)
        clock.move_to(local(1, 19))
        before = held()

        with pytest.raises(PlanGone, match="has begun since"):
            book(actor=town.instructor, answer=answer)

        assert held() == before

    def test_cold_work_that_was_done_since_is_not_done_twice(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job, saw = fused_and_worked(town, kiln), town.equipment["saw"]
        clock.move_to(local(3, 12))
        begin = floor_minutes(local(6, 10))
        again = HandworkPlanned(
            does=Handwork.COLD_WORK,
            studio_id=town.flame.pk,
            station_id=saw.pk,
            span=(begin, begin + 120),
            load="",
            pieces=6,
            of=tuple(range(6)),
        )
        answer = answered(job, planned(handwork=[again]))
        step_done(actor=town.technician, step=job.steps.order_by("starts_at")[0])

        with pytest.raises(PlanGone, match="cold work of it"):
            book(actor=town.instructor, answer=answer)

        assert job.steps.count() == 2

    def test_who_books_kilns_plans_anew(self, town: Town, kiln: Equipment) -> None:
        job = fused_and_slumped(town, kiln)

        answer = sought(town, job)

        with pytest.raises(NotAllowed):
            book(actor=town.student, answer=answer)
        with pytest.raises(NotYours):
            seek(actor=town.student, job=job)

    def test_a_date_that_cannot_be_met_any_more_is_put_off_for_the_plan_alone(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln, due_at=local(12, 18))
        clock.move_to(local(2, 9))
        breaks(town, kiln, 3, 20)
        refused = seek(actor=town.instructor, job=KilnJob.objects.get(pk=job.pk))

        later = set_out_later(actor=town.instructor, answer=refused)
        later.refresh_from_db()

        assert (refused.refusal or {})["code"] == "too-late"
        assert set(later.what_if) == {"due_at"}


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
