"""Kiln jobs: what is asked, booked whole or not at all, worked on by hand, and called off."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import InvalidInput, NotAllowed, NotQualified, NotYours, Over, PlanGone
from scheduling.models import (
    AuditEntry,
    Booking,
    BookingStatus,
    Firing,
    JobStep,
    KilnAnswer,
    KilnJob,
    KilnJobStatus,
    Load,
    Message,
    Occupancy,
    Piece,
    PieceState,
    Stand,
)
from scheduling.selectors.duties import Does, duties_on
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import Changes, SizeAsked, arrived, change, step_done
from scheduling.services.labels import LETTERS
from scheduling.services.outages import enter_outage
from scheduling.services.ticks import take_back, tick_duty
from studios.models import Equipment, Mould, Qualification
from tests.invariants import broken
from tests.services.kiln_work import (
    a_job,
    answered,
    booked,
    by_hand,
    load_at,
    planned,
    second_kiln,
)
from tests.services.test_booking import book as book_class
from tests.worlds import FIRST_MONDAY, Town, local

pytestmark = pytest.mark.django_db


class TestAsked:
    pytestmark = pytest.mark.usefixtures("kiln")

    def test_each_piece_gets_a_number_and_a_label_that_is_read_aloud_without_doubt(self, town: Town) -> None:
        job = a_job(town)

        labels = list(job.pieces.values_list("label", flat=True))
        assert [piece.number for piece in job.pieces.order_by("number")] == [1, 2, 3, 4, 5, 6]
        assert len(set(labels)) == 6
        assert all(len(label) == 5 and set(label) <= set(LETTERS) for label in labels)
        assert not set("0O1IL") & set(LETTERS)
        assert job.status == KilnJobStatus.ASKED
        assert AuditEntry.objects.filter(did="ask", subject=job.uid, studio=town.flame).count() == 1

    def test_pieces_belong_to_their_makers_and_the_rest_to_whoever_asks(self, town: Town) -> None:
        sizes = [SizeAsked(count=3, length_mm=100, width_mm=90, makers=(town.student, "A visitor"))]

        job = a_job(town, sizes=sizes)

        made = [(piece.maker, piece.maker_name) for piece in job.pieces.order_by("number")]
        assert made == [(town.student, ""), (None, "A visitor"), (town.instructor, "")]

    @pytest.mark.parametrize(
        ("facts", "field"),
        [
            ({"title": " "}, "title"),
            ({"sizes": []}, "sizes"),
            ({"sizes": [SizeAsked(count=0, length_mm=100, width_mm=100)]}, "sizes"),
            ({"sizes": [SizeAsked(count=501, length_mm=100, width_mm=100)]}, "sizes"),
            ({"sizes": [SizeAsked(count=1, length_mm=100, width_mm=2)]}, "sizes"),
            ({"sizes": [SizeAsked(count=1, length_mm=100, width_mm=90, round=True)]}, "sizes"),
            ({"sizes": [SizeAsked(count=1, length_mm=100, width_mm=90, makers=("A", "B"))]}, "makers"),
            ({"thickness_mm": float("nan")}, "thickness_mm"),
            ({"thickness_mm": 0.0}, "thickness_mm"),
            ({"route": "boil"}, "route"),
            ({"aim": "prettiest"}, "aim"),
            ({"cold_min_each": 481}, "cold_min_each"),
            ({"due_at": local(1, 9)}, "due_at"),
            ({"arrives_at": local(-9, 9), "due_at": local(-1, 9)}, "due_at"),
            ({"studios": []}, "studios"),
            ({"note": "x" * 201}, "note"),
        ],
    )
    def test_what_makes_no_sense_is_refused_with_the_field_that_is_at_fault(
        self, town: Town, facts: dict[str, Any], field: str
    ) -> None:
        with pytest.raises(InvalidInput) as refused:
            a_job(town, **facts)

        assert refused.value.field == field
        assert not KilnJob.objects.exists()
        assert not Piece.objects.exists()

    def test_glasses_that_expand_differently_are_never_fused_in_one_piece(self, town: Town) -> None:
        with pytest.raises(InvalidInput, match="fusing-90") as refused:
            a_job(town, mixed_with=[town.glasses["soft-104"]])

        assert refused.value.field == "mixed_with"
        assert refused.value.facts["reason"] == "mixed-expansion"

    def test_a_mould_that_holds_nothing_is_no_mould(self, town: Town) -> None:
        mould = Mould.objects.create(studio=town.flame, name="bowl", count=0, length_mm=200, width_mm=200)

        with pytest.raises(InvalidInput, match="bowl holds no piece") as refused:
            a_job(town, sizes=[SizeAsked(count=1, length_mm=150, width_mm=150, mould=mould)])

        assert refused.value.field == "mould"

    def test_a_mould_of_another_studio_is_not_there(self, town: Town) -> None:
        mould = Mould.objects.create(studio=town.hot_shop, name="bowl", length_mm=200, width_mm=200)

        with pytest.raises(InvalidInput, match="at none of these studios"):
            a_job(town, sizes=[SizeAsked(count=1, length_mm=150, width_mm=150, mould=mould)])

    def test_whoever_belongs_to_the_studio_may_ask_and_a_stranger_may_not(self, town: Town) -> None:
        a_job(town, town.student)

        with pytest.raises(NotAllowed):
            a_job(town, town.stranger)

    def test_other_sizes_are_other_pieces_and_the_rest_stays(self, town: Town) -> None:
        job = a_job(town, due_at=local(20, 9))
        before = set(job.pieces.values_list("label", flat=True))

        sizes = [SizeAsked(count=2, length_mm=100, width_mm=100)]
        change(actor=town.manager, job=job, changes=Changes(sizes=sizes, thickness_mm=9.0, no_due=True))

        assert job.pieces.count() == 2
        assert not before & set(job.pieces.values_list("label", flat=True))
        assert (job.thickness_mm, job.due_at, job.title) == (9.0, None, "Fair dishes")

    def test_only_who_minds_it_changes_it(self, town: Town) -> None:
        job = a_job(town)

        with pytest.raises(NotYours):
            change(actor=town.student, job=job, changes=Changes(title="Mine"))

    def test_pieces_come_and_stand_somewhere(self, town: Town) -> None:
        job = a_job(town)
        first = job.pieces.get(number=1)

        arrived(actor=town.technician, job=job, pieces=[first], place="table 2")
        arrived(actor=town.technician, job=job, place="box 1")

        places = list(job.pieces.order_by("number").values_list("state", "place"))
        assert places == [("here", "table 2")] + [("here", "box 1")] * 5
        assert [event.state for event in first.events.all()] == ["expected", "here"]
        with pytest.raises(Over, match="come whole already"):
            arrived(actor=town.technician, job=job)


class TestBooked:
    def test_a_plan_is_booked_whole(self, town: Town, kiln: Equipment) -> None:
        job = a_job(town, shares_space=True)
        load = load_at(job, kiln, local(1, 18))
        saw = town.equipment["saw"]
        handwork = [
            by_hand(load, Handwork.WASH_SHELVES, local(1, 9), 15),
            by_hand(load, Handwork.COLD_WORK, local(4, 10), 90, saw),
        ]

        booked(job, load, actor=town.instructor, handwork=handwork)

        firing = Firing.objects.get()
        assert (job.status, job.ready_at) == (KilnJobStatus.BOOKED, local(4, 11, 30))
        assert firing.occupancy.starts_at == firing.takes_more_until == local(1, 18)
        assert firing.at_hold_at == firing.last_in_at == local(1, 18, 45)
        assert Load.objects.values_list("job", "job_step", "pieces").get() == (job.pk, 1, 6)
        assert sorted(Stand.objects.values_list("piece__number", "level")) == [
            (1, 1), (2, 1), (3, 1), (4, 1), (5, 2), (6, 2),
        ]  # fmt: skip
        assert Occupancy.objects.get(equipment=saw, booking__job_step__does="cold-work").place == 1
        assert broken() == []
        said = Message.objects.get(person=town.instructor, subject="Booked: Fair dishes").body
        assert "loaded at Tue 4 Mar 2031, 18:00 CST" in said

    def test_when_the_kiln_is_taken_meanwhile_nothing_of_it_is_booked(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = a_job(town)
        halves = range(3), range(3, 6)
        first, second = (
            load_at(job, kiln, local(day, 18), pieces=half) for day, half in zip((1, 4), halves, strict=True)
        )
        plan = planned(first, second, handwork=[by_hand(first, Handwork.WASH_SHELVES, local(1, 9), 15)])
        answer = answered(job, plan)
        book_class(town, "tiles", local(4, 18))
        taken = Firing.objects.count()

        with pytest.raises(PlanGone, match="kiln") as gone:
            book(actor=town.instructor, answer=answer)

        assert gone.value.code == "plan-gone"
        job.refresh_from_db()
        assert job.status == KilnJobStatus.ASKED
        assert (Firing.objects.count(), JobStep.objects.count(), Stand.objects.count()) == (taken, 0, 0)

    def test_when_the_saw_is_taken_meanwhile_nothing_of_it_is_booked(
        self, town: Town, kiln: Equipment
    ) -> None:
        job, saw = a_job(town), town.equipment["saw"]
        load = load_at(job, kiln, local(1, 18))
        answer = answered(
            job, planned(load, handwork=[by_hand(load, Handwork.COLD_WORK, local(4, 10), 90, saw)])
        )
        hours = {"starts_at": local(4, 9), "ends_at": local(4, 11)}
        enter_outage(actor=town.technician, equipment=saw, reason="new blade", **hours)

        with pytest.raises(PlanGone, match="new blade"):
            book(actor=town.instructor, answer=answer)

        assert not Firing.objects.exists()
        assert not Booking.objects.exists()

    def test_a_kiln_that_is_booked_differently_now_would_be_unloaded_at_another_time(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = a_job(town)
        answer = answered(job, planned(load_at(job, kiln, local(1, 18))))
        kiln.clear_min = 60
        kiln.save()

        with pytest.raises(PlanGone, match="another time now"):
            book(actor=town.instructor, answer=answer)

    def test_a_job_changed_since_the_answer_is_answered_anew(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = a_job(town)
        answer = answered(job, planned(load_at(job, kiln, local(1, 18))))
        clock.shift(60)
        change(actor=town.instructor, job=job, changes=Changes(thickness_mm=9.0))

        with pytest.raises(PlanGone, match="changed since"):
            book(actor=town.instructor, answer=answer)

    def test_a_what_if_of_other_pieces_is_for_reading(self, town: Town, kiln: Equipment) -> None:
        job = a_job(town)
        plan = planned(load_at(job, kiln, local(1, 18)))

        with pytest.raises(Over, match="other work"):
            book(actor=town.instructor, answer=answered(job, plan, what_if={"more_pieces": 10}))

    def test_a_student_asks_and_an_instructor_books_it_once(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = a_job(town, town.student)
        answer = answered(job, planned(load_at(job, kiln, local(1, 18))))

        with pytest.raises(NotAllowed):
            book(actor=town.student, answer=answer)
        clock.shift(60)
        book(actor=town.instructor, answer=answer)

        assert job.loads.get().owner == town.student
        with pytest.raises(Over, match="booked already"):
            book(actor=town.instructor, answer=answer)


class TestMoulds:
    def slumps(self, town: Town, kiln: Equipment, mould: Mould, day: int) -> KilnAnswer:
        sizes = [SizeAsked(count=2, length_mm=150, width_mm=150, mould=mould)]
        job = a_job(town, route="fuse-slump", sizes=sizes)
        fuse, slump = load_at(job, kiln, local(day, 18)), load_at(job, kiln, local(day + 4, 18), step=2)
        return answered(job, planned(fuse, slump))

    @pytest.mark.parametrize(("count", "fits"), [(4, True), (3, False)])
    def test_two_kilns_share_the_moulds_that_there_are(
        self, town: Town, kiln: Equipment, count: int, fits: bool
    ) -> None:
        other = second_kiln(town)
        facts = {"length_mm": 150, "width_mm": 150, "count": count}
        mould = Mould.objects.create(studio=town.flame, name="bowl", **facts)
        answers = [self.slumps(town, kiln, mould, 1), self.slumps(town, other, mould, 1)]
        book(actor=town.instructor, answer=answers[0])

        if fits:
            book(actor=town.instructor, answer=answers[1])
        else:
            with pytest.raises(PlanGone, match="3 of the mould bowl"):
                book(actor=town.instructor, answer=answers[1])

        assert Firing.objects.count() == (4 if fits else 2)

    def test_the_same_moulds_serve_one_load_after_another(self, town: Town, kiln: Equipment) -> None:
        facts = {"length_mm": 150, "width_mm": 150, "count": 2}
        mould = Mould.objects.create(studio=town.flame, name="bowl", **facts)

        for day in (1, 9):
            book(actor=town.instructor, answer=self.slumps(town, kiln, mould, day))

        assert Firing.objects.count() == 4


class TestDuties:
    def test_handwork_stands_in_the_days_round_and_ticked_it_is_done(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = a_job(town)
        load = load_at(job, kiln, local(1, 18))
        booked(
            job, load, actor=town.instructor, handwork=[by_hand(load, Handwork.WASH_SHELVES, local(1, 9), 15)]
        )
        tuesday = FIRST_MONDAY + dt.timedelta(days=1)
        clock.move_to(local(1, 12))

        duties = duties_on(town.flame, tuesday)
        said = [(duty.does, duty.what, duty.why) for duty in duties]
        ticks = tick_duty(actor=town.technician, studio=town.flame, day=tuesday, duties=duties[0].keys).ticks

        assert said == [
            (Does.WASH_SHELVES, "kiln, 6 pieces", "Fair dishes, Instructor"),
            (Does.LOAD, "kiln", "Fair dishes: full fuse, Instructor"),
            (Does.SWITCH_ON, "kiln", "Fair dishes: full fuse, Instructor"),
        ]
        step = JobStep.objects.get()
        assert (step.done_at, step.done_by) == (local(1, 12), town.technician)
        take_back(actor=town.technician, ticks=ticks)
        step.refresh_from_db()
        assert step.done_at is None

    def test_a_step_is_done_once(self, town: Town, kiln: Equipment) -> None:
        job = a_job(town)
        load = load_at(job, kiln, local(1, 18))
        booked(
            job, load, actor=town.instructor, handwork=[by_hand(load, Handwork.WASH_SHELVES, local(1, 9), 15)]
        )
        step = JobStep.objects.get()

        step_done(actor=town.technician, step=step)

        with pytest.raises(Over, match="done already"):
            step_done(actor=town.technician, step=step)
        with pytest.raises(NotAllowed):
            step_done(actor=town.student, step=step, done=False)


class TestCalledOff:
    def test_what_has_not_begun_is_free_again(self, town: Town, kiln: Equipment) -> None:
        job, saw = a_job(town), town.equipment["saw"]
        load = load_at(job, kiln, local(1, 18))
        booked(
            job,
            load,
            actor=town.instructor,
            handwork=[by_hand(load, Handwork.COLD_WORK, local(4, 10), 90, saw)],
        )

        cancel(actor=town.manager, job=job)

        assert job.status == KilnJobStatus.CANCELLED
        assert not Occupancy.objects.exists()
        assert not JobStep.objects.exists()
        assert Firing.objects.get().status == Booking.objects.get().status == BookingStatus.CANCELLED
        assert Message.objects.filter(person=town.instructor, subject="Called off: Fair dishes").count() == 1
        assert broken() == []
        with pytest.raises(Over, match="over already"):
            cancel(actor=town.manager, job=job)

    def test_what_is_in_the_kiln_is_fired_to_its_end(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = a_job(town, route="fuse-slump")
        fuse, slump = load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(5, 18), step=2)
        booked(job, fuse, slump, actor=town.instructor)
        clock.move_to(local(2, 9))

        cancel(actor=town.instructor, job=job)

        (firing,) = Firing.objects.filter(status=BookingStatus.BOOKED)
        assert firing.occupancy.starts_at == local(1, 18)
        assert job.loads.count() == 1

    def test_only_who_minds_it_calls_it_off(self, town: Town, kiln: Equipment) -> None:
        job = a_job(town)
        booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)

        with pytest.raises(NotYours):
            cancel(actor=town.student, job=job)

        assert Piece.objects.filter(state=PieceState.EXPECTED).count() == 6


def test_an_instructor_books_kilns_that_the_studio_has_signed_them_off_for(
    town: Town, kiln: Equipment
) -> None:
    job = a_job(town)
    Qualification.objects.filter(person=town.instructor, kind="kiln").delete()

    with pytest.raises(NotQualified, match="not signed off for kiln at Flame"):
        booked(job, load_at(job, kiln, local(2, 10)), actor=town.instructor)

    assert booked(job, load_at(job, kiln, local(2, 10)), actor=town.technician).status == "booked"
