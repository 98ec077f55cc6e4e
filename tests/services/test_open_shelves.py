"""Open shelf space: others add pieces beside those that stand there, until the cut-off, and leave again."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from scheduling.engine.kiln_work.answers import StandPlanned
from scheduling.engine.kiln_work.beside import Levels, laid_beside, thickness_class
from scheduling.engine.packing import Footprint, Shelf
from scheduling.errors import InvalidInput, NoShelfSpace, NotAllowed, NotYours, Over
from scheduling.models import (
    AuditEntry,
    Firing,
    KilnJob,
    KilnJobStatus,
    Message,
    Piece,
    PieceState,
    Stand,
)
from scheduling.services.actuals import record_actual
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.offered_space import offer, withdraw
from scheduling.services.open_shelves import add_pieces, leave
from scheduling.services.pick_up import unload
from studios.models import Person
from tests.invariants import broken
from tests.services.kiln_work import a_job, booked, load_at, with_shelves
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
SMALL = (SizeAsked(count=2, length_mm=100, width_mm=80),)


@pytest.fixture
def firing(town: Town, clock: time_machine.Traveller) -> Firing:
    """Six dishes of an instructor on two shelves, loaded on Tuesday at six; others may add to it."""
    kiln, job = with_shelves(town), a_job(town, shares_space=True)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)
    return Firing.objects.get()


def adds(town: Town, firing: Firing, actor: Person | None = None, **facts: Any) -> KilnJob:
    asked = {"sizes": SMALL, "glass": town.glasses["fusing-90"], "thickness_mm": 6.0, **facts}
    return add_pieces(actor=actor or town.student, firing=firing, **asked)


def test_a_student_adds_pieces_beside_those_that_stand_there(town: Town, firing: Firing) -> None:
    before = (firing.segments, firing.unload_at)

    job = adds(town, firing)

    firing.refresh_from_db()
    assert (firing.segments, firing.unload_at) == before
    assert (job.status, job.owner, job.title) == (KilnJobStatus.BOOKED, town.student, "Student")
    assert job.ready_at == firing.occupancy.ends_at
    load = job.loads.get()
    assert (load.firing, load.pieces, load.job_step) == (firing, 2, 1)
    assert load.in_from == firing.loads.exclude(pk=load.pk).get().in_from
    assert Stand.objects.filter(load=load, level__isnull=False).count() == 2
    assert Message.objects.filter(
        person=town.instructor, subject="Added to your firing: Fair dishes"
    ).exists()
    assert AuditEntry.objects.filter(did="add-to-firing", subject=job.uid).count() == 1
    assert broken() == []


def test_both_are_unloaded_and_each_is_told_of_the_own_pieces(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    adds(town, firing)
    clock.move_to(local(3, 12))

    unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), "shelf 3"))

    assert set(Piece.objects.values_list("state", flat=True)) == {PieceState.READY}
    told = Message.objects.filter(subject__startswith="To be collected").order_by("person__name")
    assert list(told.values_list("person__name", flat=True)) == ["Instructor", "Student"]


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        ({"glass": "boro-33"}, "glass"),
        ({"thickness_mm": 3.0}, "thickness-class"),
        ({"thickness_mm": 9.0}, "thickness-class"),
        ({"sizes": (SizeAsked(count=1, length_mm=500, width_mm=400),)}, "full"),
        ({"sizes": (SizeAsked(count=40, length_mm=100, width_mm=80),)}, "full"),
    ],
)
def test_what_does_not_fit_is_refused_with_the_reason(
    town: Town, firing: Firing, facts: dict[str, Any], reason: str
) -> None:
    if "glass" in facts:
        facts = {"glass": town.glasses[facts["glass"]]}

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing, **facts)

    assert refused.value.facts["reason"] == reason
    assert KilnJob.objects.count() == firing.loads.count() == 1


def test_nothing_thicker_comes_than_lies_there(town: Town, clock: time_machine.Traveller) -> None:
    kiln, job = with_shelves(town), a_job(town, thickness_mm=5.0, shares_space=True)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, Firing.objects.get(), thickness_mm=6.0)

    assert refused.value.facts["reason"] == "thicker"


def test_until_the_cut_off_and_not_once_it_is_loaded(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    offer(actor=town.instructor, firing=firing, until=local(1, 12))
    clock.move_to(local(1, 11, 59))
    adds(town, firing)
    clock.move_to(local(1, 12))

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing, town.other_student)

    assert refused.value.facts["reason"] == "cut-off"


def test_what_is_loaded_early_takes_nothing_more(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    clock.move_to(local(1, 17, 50))
    record_actual(actor=town.technician, firing=firing, kind="lit", at=local(1, 17, 45))

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing)

    assert refused.value.facts["reason"] == "cut-off"


def test_withdrawn_it_is_closed_and_what_was_added_stays(town: Town, firing: Firing) -> None:
    adds(town, firing)

    withdraw(actor=town.instructor, firing=firing)

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing, town.other_student)
    assert refused.value.facts["reason"] == "closed"
    assert firing.loads.count() == 2
    with pytest.raises(Over, match="not open to others"):
        withdraw(actor=town.instructor, firing=firing)


def test_who_offers_it_and_until_when_at_the_latest(town: Town, firing: Firing) -> None:
    with pytest.raises(NotYours):
        offer(actor=town.student, firing=firing)
    for until in (local(1, 18, 1), local(0, 9)):
        with pytest.raises(InvalidInput):
            offer(actor=town.instructor, firing=firing, until=until)

    offer(actor=town.technician, firing=firing)

    firing.refresh_from_db()
    assert firing.takes_more_until == local(1, 18)


def test_where_pieces_stand_nobody_knows_nothing_is_offered(town: Town, firing: Firing) -> None:
    Stand.objects.all().delete()

    with pytest.raises(Over, match="places on the shelves are not known"):
        offer(actor=town.instructor, firing=firing)


def test_a_stranger_adds_nothing(town: Town, firing: Firing) -> None:
    with pytest.raises(NotAllowed):
        adds(town, firing, town.stranger)


def test_what_was_added_leaves_before_loading_and_its_room_is_free_again(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    job = adds(town, firing)
    with pytest.raises(NotYours):
        leave(actor=town.other_student, job=job)

    leave(actor=town.student, job=job)

    assert job.status == KilnJobStatus.CANCELLED
    assert firing.loads.count() == 1
    assert Firing.objects.get().status == "booked"
    assert broken() == []
    other = adds(town, firing, town.other_student)
    clock.move_to(local(1, 18))
    with pytest.raises(Over, match="no firing that has not begun"):
        leave(actor=town.other_student, job=other)


def test_when_the_host_leaves_the_guest_is_fired(town: Town, firing: Firing) -> None:
    guest = adds(town, firing)
    host = KilnJob.objects.get(owner=town.instructor)

    leave(actor=town.instructor, job=host)

    firing.refresh_from_db()
    assert firing.status == "booked"
    assert [load.job for load in firing.loads.all()] == [guest]
    assert broken() == []


class TestBeside:
    SHELF = Shelf(length_mm=300, width_mm=200, margin_mm=10, spacing_mm=12)
    ONE = Levels(laid=1, most=1)
    LARGE = (StandPlanned(piece=9, level=1, x_mm=10, y_mm=10, length_mm=200, width_mm=180, round=False),)

    def test_a_piece_stands_the_spacing_away_from_what_stands_there(self) -> None:
        (stand,) = (
            laid_beside(self.LARGE, [Footprint(length_mm=60, width_mm=100)], self.SHELF, self.ONE) or ()
        )

        assert (stand.level, stand.x_mm) == (1, 222)

    def test_it_is_turned_where_that_helps_and_goes_up_a_level(self) -> None:
        pieces = [Footprint(length_mm=150, width_mm=60), Footprint(length_mm=250, width_mm=150)]

        low, high = laid_beside(self.LARGE, pieces, self.SHELF, Levels(laid=2, most=2)) or ()

        assert (low.piece, low.level, low.length_mm, low.width_mm) == (0, 1, 60, 150)
        assert (high.piece, high.level) == (1, 2)

    def test_there_is_none_where_not_all_can_stand(self) -> None:
        assert laid_beside(self.LARGE, [Footprint(length_mm=120, width_mm=80)], self.SHELF, self.ONE) is None

    def test_shelves_that_are_laid_are_filled_first_and_no_more_are_laid_than_it_takes(self) -> None:
        pieces = [Footprint(length_mm=250, width_mm=150), Footprint(length_mm=60, width_mm=100)]

        large, small = laid_beside(self.LARGE, pieces, self.SHELF, Levels(laid=1, most=3)) or ()

        assert (large.level, small.level) == (2, 1)

    def test_shelves_below_the_first_are_left_alone(self) -> None:
        levels = Levels(first=2, laid=1, most=3)

        (stand,) = laid_beside((), [Footprint(length_mm=60, width_mm=100)], self.SHELF, levels) or ()

        assert stand.level == 2

    @pytest.mark.parametrize(
        ("thick", "number"),
        [(3.0, 0), (3.1, 1), (6.0, 1), (9.0, 2), (12.0, 3), (19.0, 4), (25.0, 5), (26.0, 6)],
    )
    def test_thickness_classes(self, thick: float, number: int) -> None:
        assert thickness_class(thick) == number
