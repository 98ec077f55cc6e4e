"""Pieces from the maker's table to the maker's hands: where they are, what happened to them, who signed."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.db import IntegrityError

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import InvalidInput, NotAllowed, Over
from scheduling.models import (
    ActualKind,
    AuditEntry,
    Collection,
    Firing,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Message,
    PickUp,
    Piece,
    PieceState,
)
from scheduling.selectors.pick_up import own_pieces, shelves_of
from scheduling.selectors.pieces import pieces_seen_by
from scheduling.services import labels
from scheduling.services.actuals import record_actual, strike_actual
from scheduling.services.kiln_jobs import SizeAsked, arrived, step_done
from scheduling.services.pick_up import mark_collected, unload
from scheduling.services.pieces import damaged, found_again, hand_over, place_pieces, take_back
from studios.models import Equipment
from tests.invariants import broken
from tests.services.kiln_work import a_job, booked, by_hand, load_at
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def fused_and_slumped(town: Town, kiln: Equipment) -> KilnJob:
    """Two pieces of a student and one of a visitor: fused from Tuesday, slumped from Saturday."""
    sizes = [
        SizeAsked(count=3, length_mm=150, width_mm=150, makers=(town.student, town.student, "A visitor"))
    ]
    job = a_job(town, sizes=sizes, route="fuse-slump")
    fuse, slump = load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(5, 18), step=2)
    return booked(job, fuse, slump, actor=town.instructor)


def fused(town: Town, kiln: Equipment) -> KilnJob:
    """The same three, fused only."""
    sizes = [
        SizeAsked(count=3, length_mm=150, width_mm=150, makers=(town.student, town.student, "A visitor"))
    ]
    job = a_job(town, sizes=sizes)
    return booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)


def out(town: Town, firing: Firing, shelf: str) -> None:
    unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), shelf))


def states(job: KilnJob) -> list[tuple[str, str]]:
    return list(job.pieces.order_by("number").values_list("state", "place"))


def told(subject: str) -> list[str]:
    return sorted(Message.objects.filter(subject__startswith=subject).values_list("person__name", flat=True))


class TestLabels:
    pytestmark = pytest.mark.usefixtures("kiln")

    def test_a_label_that_is_taken_is_drawn_again(self, town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
        one = a_job(town, sizes=[SizeAsked(count=1, length_mm=100, width_mm=100)]).pieces.get()
        drawn = iter([[one.label], ["WXYZ9"]])
        monkeypatch.setattr(labels, "new_labels", lambda _: next(drawn))

        other = a_job(town, sizes=[SizeAsked(count=1, length_mm=100, width_mm=100)]).pieces.get()

        assert other.label == "WXYZ9"
        assert other.events.count() == 1

    def test_what_is_refused_for_another_reason_is_not_tried_for_ever(
        self, town: Town, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        one = a_job(town, sizes=[SizeAsked(count=1, length_mm=100, width_mm=100)]).pieces.get()
        monkeypatch.setattr(labels, "new_labels", lambda _: [one.label])

        with pytest.raises(IntegrityError):
            a_job(town, sizes=[SizeAsked(count=1, length_mm=100, width_mm=100)])

        assert Piece.objects.count() == 1


class TestFired:
    def test_between_two_firings_nobody_is_told_and_after_the_last_each_maker_once(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        first, last = Firing.objects.order_by("last_in_at")
        arrived(actor=town.instructor, job=job, place="table")

        clock.move_to(local(1, 18, 45))
        record_actual(actor=town.technician, firing=first, kind=ActualKind.LAST_IN, at=local(1, 18, 45))
        loaded = states(job)
        clock.move_to(local(3, 12))
        out(town, first, "cart 1")
        between, told_between = states(job), told("To be collected")
        clock.move_to(local(7, 12))
        out(town, last, "shelf 3")

        assert loaded == [("in-kiln", "shelf 1, kiln")] * 3
        assert (between, told_between) == ([("here", "cart 1")] * 3, [])
        assert not PickUp.objects.filter(load__firing=first).exists()
        assert states(job) == [("ready", "shelf 3")] * 3
        assert told("To be collected") == ["Instructor", "Student"]
        body = Message.objects.get(person=town.student, subject="To be collected: Fair dishes").body
        assert "They lie at shelf 3" in body
        assert all(
            label in body for label in job.pieces.filter(maker=town.student).values_list("label", flat=True)
        )
        piece = job.pieces.get(number=1)
        went = [event.state for event in piece.events.all()]
        assert went == ["expected", "here", "in-kiln", "here", "in-kiln", "here", "ready"]
        assert broken() == []

    def test_what_has_no_shelf_yet_is_found_until_it_has_one(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused_and_slumped(town, kiln)
        first = Firing.objects.earliest("last_in_at")
        clock.move_to(local(3, 12))
        record_actual(actor=town.technician, firing=first, kind=ActualKind.UNLOADED, at=local(3, 12))
        (minded,) = [each for each in shelves_of(town.technician) if each.studio == town.flame]

        out(town, first, "cart 1")

        assert list(minded.without_shelf) == [first]
        (now,) = [each for each in shelves_of(town.technician) if each.studio == town.flame]
        assert list(now.without_shelf) == []
        assert states(job) == [("here", "cart 1")] * 3

    def test_with_cold_work_left_after_the_last_firing_it_is_ready_when_that_is_done(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = a_job(town)
        load = load_at(job, kiln, local(1, 18))
        saw = by_hand(load, Handwork.COLD_WORK, local(4, 10), 90, town.equipment["saw"])
        booked(job, load, actor=town.instructor, handwork=[saw])
        clock.move_to(local(3, 12))
        out(town, Firing.objects.get(), "saw table")
        before = states(job)[0]

        clock.move_to(local(4, 12))
        step_done(actor=town.technician, step=JobStep.objects.get())

        assert before == ("here", "saw table")
        assert states(job)[0] == ("ready", "saw table")
        assert told("To be collected") == ["Instructor"]
        assert own_pieces(town.instructor).get().pick_up.shelf == "saw table"

    def worked_in_two_parts(self, town: Town, kiln: Equipment) -> KilnJob:
        """Two pieces of a student and one of a visitor, fused from Tuesday; the first two are worked cold."""
        sizes = [SizeAsked(count=4, length_mm=150, width_mm=150, makers=(*[town.student] * 2, "A visitor"))]
        job = a_job(town, sizes=sizes)
        load, saw = load_at(job, kiln, local(1, 18)), town.equipment["saw"]
        cold = [
            by_hand(load, Handwork.COLD_WORK, local(day, 10), 30, saw, of=[piece])
            for day, piece in ((4, 0), (5, 1))
        ]
        return booked(job, load, actor=town.instructor, handwork=cold)

    def test_cold_work_holds_back_its_own_pieces_alone_and_each_maker_is_told_once(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.worked_in_two_parts(town, kiln)
        first, second = job.steps.order_by("starts_at")

        clock.move_to(local(3, 12))
        out(town, Firing.objects.get(), "saw table")
        unworked, told_at_once = [state for state, _ in states(job)], told("To be collected")
        clock.move_to(local(4, 12))
        step_done(actor=town.technician, step=first)
        half, told_by_then = [state for state, _ in states(job)], told("To be collected")
        clock.move_to(local(5, 12))
        step_done(actor=town.technician, step=second)

        assert (unworked, told_at_once) == (["here", "here", "ready", "ready"], ["Instructor"])
        assert (half, told_by_then) == (["ready", "here", "ready", "ready"], ["Instructor"])
        assert states(job) == [("ready", "saw table")] * 4
        assert told("To be collected") == ["Instructor", "Student"]
        assert own_pieces(town.student).get().pick_up.shelf == "saw table"

    def test_who_has_collected_one_piece_collects_the_one_that_is_ready_later_too(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.worked_in_two_parts(town, kiln)
        first, second = job.steps.order_by("starts_at")
        clock.move_to(local(4, 12))
        out(town, Firing.objects.get(), "saw table")
        step_done(actor=town.technician, step=first)
        mark_collected(actor=town.technician, collection=Collection.objects.get(person=town.student))

        clock.move_to(local(5, 12))
        step_done(actor=town.technician, step=second)

        assert [state for state, _ in states(job)] == ["handed-over", "ready", "ready", "ready"]
        assert own_pieces(town.student).get().collected_at is None

    def test_an_older_row_of_cold_work_that_names_no_pieces_holds_back_all_of_them(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.worked_in_two_parts(town, kiln)
        first, second = job.steps.order_by("starts_at")
        for step in (first, second):
            step.of.clear()
        job.steps.update(load=None)

        clock.move_to(local(4, 12))
        out(town, Firing.objects.get(), "saw table")
        step_done(actor=town.technician, step=first)
        half = {state for state, _ in states(job)}
        step_done(actor=town.technician, step=second)

        assert half == {"here"}
        assert {state for state, _ in states(job)} == {"ready"}

    def test_unloaded_by_mistake_it_is_in_the_kiln_again_and_nobody_comes_for_it(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused(town, kiln)
        firing = Firing.objects.get()
        clock.move_to(local(3, 12))
        out(town, firing, "shelf 3")

        strike_actual(actor=town.technician, actual=firing.actuals.get())
        struck, told_not = states(job), told("Not yet to be collected")
        firing.refresh_from_db()
        out(town, firing, "shelf 4")

        assert struck == [("in-kiln", "kiln")] * 3
        assert told_not == ["Instructor", "Student"]
        assert states(job) == [("ready", "shelf 4")] * 3
        assert told("To be collected") == ["Instructor", "Instructor", "Student", "Student"]

    def test_what_broke_off_is_ready_for_nobody(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused(town, kiln)
        firing = Firing.objects.get()
        clock.move_to(local(3, 12))
        assert firing.below_strain_at is not None
        at = firing.below_strain_at - dt.timedelta(minutes=30)
        record_actual(actor=town.technician, firing=firing, kind=ActualKind.POWER_LOST, at=at)
        firing.refresh_from_db()

        unload(actor=town.technician, firing=firing, shelves={})

        assert firing.broken_at is not None
        assert {state for state, _ in states(job)} == {"here"}
        assert "annealed again" in job.pieces.get(number=1).events.latest("pk").note
        assert told("To be collected") == []

    def test_struck_a_record_gives_the_plan_of_a_kiln_job_back(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        fused(town, kiln)
        firing = Firing.objects.get()
        planned = (firing.at_hold_at, firing.cool_at, firing.unload_at)
        clock.move_to(local(1, 21))
        late = record_actual(actor=town.technician, firing=firing, kind=ActualKind.LAST_IN, at=local(1, 20))
        firing.refresh_from_db()
        moved = (firing.at_hold_at, firing.cool_at, firing.unload_at)

        strike_actual(actor=town.technician, actual=late.actual)

        firing.refresh_from_db()
        assert moved[0] == local(1, 20)
        assert moved[1] > planned[1]
        assert (firing.at_hold_at, firing.cool_at, firing.unload_at) == planned

    def test_when_its_firing_runs_late_the_job_is_ready_later(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused(town, kiln)
        before = job.ready_at
        clock.move_to(local(2, 9))

        record_actual(
            actor=town.technician, firing=Firing.objects.get(), kind=ActualKind.LAST_IN, at=local(2, 8, 30)
        )

        job.refresh_from_db()
        assert before is not None
        assert job.ready_at is not None
        assert job.ready_at > before
        assert job.ready_at == Firing.objects.get().occupancy.ends_at
        assert told("Firing moved") == ["Instructor"]


class TestHandedOver:
    def ready(self, town: Town, kiln: Equipment, clock: time_machine.Traveller) -> KilnJob:
        job = fused(town, kiln)
        clock.move_to(local(3, 12))
        out(town, Firing.objects.get(), "shelf 3")
        return job

    def test_piece_by_piece_with_who_signed_until_the_job_is_done(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.ready(town, kiln, clock)
        mine, also_mine, visitors = job.pieces.order_by("number")

        hand_over(actor=town.technician, pieces=[visitors], signed_by="A. Visitor")
        hand_over(actor=town.technician, pieces=[mine])
        half = Collection.objects.get(person=town.student).collected_at
        hand_over(actor=town.technician, pieces=[also_mine])

        visitors.refresh_from_db()
        assert (visitors.state, visitors.signed_by, visitors.handed_by) == (
            PieceState.HANDED_OVER,
            "A. Visitor",
            town.technician,
        )
        assert half is None
        assert Collection.objects.filter(collected_at__isnull=True).count() == 0
        assert Collection.objects.get(person=town.instructor).signed_by == "A. Visitor"
        job.refresh_from_db()
        assert job.status == KilnJobStatus.DONE
        with pytest.raises(Over, match="handed over already"):
            hand_over(actor=town.technician, pieces=[visitors])

    def test_collected_by_a_person_all_of_the_own_pieces_go(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = self.ready(town, kiln, clock)
        collection = Collection.objects.get(person=town.student)

        mark_collected(actor=town.technician, collection=collection, signed_by="S. T.")
        went = [(piece.state, piece.signed_by) for piece in job.pieces.order_by("number")]
        mark_collected(actor=town.technician, collection=collection, collected=False)

        assert went == [("handed-over", "S. T."), ("handed-over", "S. T."), ("ready", "")]
        assert states(job) == [("ready", "shelf 3")] * 3
        assert collection.signed_by == ""

    def test_not_after_all(self, town: Town, kiln: Equipment, clock: time_machine.Traveller) -> None:
        job = self.ready(town, kiln, clock)
        pieces = list(job.pieces.order_by("number"))
        hand_over(actor=town.technician, pieces=pieces)

        take_back(actor=town.technician, piece=pieces[0], place="shelf 1")

        job.refresh_from_db()
        assert job.status == KilnJobStatus.BOOKED
        assert states(job)[0] == ("ready", "shelf 1")
        assert Collection.objects.get(person=town.student).collected_at is None

    def test_what_is_not_ready_and_by_whom_it_may_not_be_handed_over(
        self, town: Town, kiln: Equipment
    ) -> None:
        job = fused(town, kiln)

        with pytest.raises(Over, match="has not come yet"):
            hand_over(actor=town.technician, pieces=list(job.pieces.all()))
        with pytest.raises(NotAllowed):
            hand_over(actor=town.student, pieces=list(job.pieces.all()))
        with pytest.raises(InvalidInput, match="at least one"):
            hand_over(actor=town.technician, pieces=[])

        assert not Piece.objects.exclude(state=PieceState.EXPECTED).exists()


class TestDamaged:
    def test_damage_is_noted_and_its_maker_told(self, town: Town, kiln: Equipment) -> None:
        job = fused(town, kiln)
        piece = job.pieces.get(number=1)

        damaged(actor=town.technician, piece=piece, damage="chip at the rim")

        piece.refresh_from_db()
        assert (piece.damage, piece.state) == ("chip at the rim", PieceState.EXPECTED)
        assert told("Damaged") == ["Student"]
        assert piece.events.latest("pk").note == "chip at the rim"
        assert AuditEntry.objects.filter(did="damage", subject=piece.uid).count() == 1

    def test_who_waits_for_a_lost_piece_only_is_told_that_the_rest_is_ready(
        self, town: Town, kiln: Equipment, clock: time_machine.Traveller
    ) -> None:
        job = fused(town, kiln)
        first, second, _ = job.pieces.order_by("number")
        clock.move_to(local(3, 12))
        damaged(actor=town.technician, piece=first, damage="fell", lost=True)
        out(town, Firing.objects.get(), "shelf 3")

        assert told("To be collected") == ["Instructor", "Student"]
        body = Message.objects.get(person=town.student, subject__startswith="To be collected").body
        assert second.label in body
        assert first.label not in body

    def test_lost_and_found(self, town: Town, kiln: Equipment) -> None:
        piece = fused(town, kiln).pieces.get(number=1)
        damaged(actor=town.technician, piece=piece, damage="not in the box", lost=True)

        found_again(actor=town.technician, piece=piece, place="box 2")

        piece.refresh_from_db()
        assert (piece.state, piece.place) == (PieceState.HERE, "box 2")
        with pytest.raises(Over, match="is not lost"):
            found_again(actor=town.technician, piece=piece, place="box 2")

    def test_put_somewhere_it_keeps_where_it_was(self, town: Town, kiln: Equipment) -> None:
        piece = fused(town, kiln).pieces.get(number=1)

        place_pieces(actor=town.technician, pieces=[piece], place="table 1")
        place_pieces(actor=town.technician, pieces=[piece], place="box 4")

        assert [event.place for event in piece.events.all()] == ["", "table 1", "box 4"]
        with pytest.raises(InvalidInput, match="Say where"):
            place_pieces(actor=town.technician, pieces=[piece], place=" ")


def test_one_sees_the_own_pieces_and_those_of_the_own_job_and_staff_sees_all(
    town: Town, kiln: Equipment
) -> None:
    fused(town, kiln)

    seen = {
        person.name: pieces_seen_by(person).count()
        for person in (town.student, town.other_student, town.instructor, town.technician)
    }

    assert seen == {"Student": 2, "Other_Student": 0, "Instructor": 3, "Technician": 3}
