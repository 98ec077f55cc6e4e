"""A kiln breaks, or runs late: what of a kiln job has not begun is sought anew, and booked in its place."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine

from scheduling.engine.clock import floor_minutes
from scheduling.engine.kiln_work.answers import HandworkPlanned
from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import NotAllowed, NotYours, Over, PlanGone
from scheduling.models import (
    AuditEntry,
    BookingStatus,
    Firing,
    JobStep,
    KilnJob,
    Message,
    Occupancy,
)
from scheduling.selectors.broken import What, broken_by
from scheduling.selectors.kiln_next import in_the_way
from scheduling.services.kiln_answers import seek, set_out_later
from scheduling.services.kiln_booking import book
from scheduling.services.kiln_jobs import step_done
from scheduling.services.repairing import broken_with_repairs
from studios.models import Equipment
from tests.invariants import broken
from tests.services.begun import (
    add_a_tile,
    anew,
    breaks,
    fused,
    fused_and_slumped,
    fused_and_worked,
    held,
    plan_of,
    sought,
)
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    load_at,
    planned,
    second_kiln,
)
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOURS_8 = 8 * 60


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
