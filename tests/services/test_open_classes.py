"""A class's kiln firing is opened to others: the class keeps shelves from below, others stand above them."""

from __future__ import annotations

from typing import Any

import pytest
import time_machine

from scheduling.engine.kiln_work.routes import Handwork
from scheduling.errors import InvalidInput, NoShelfSpace, NotAllowed, Over
from scheduling.models import (
    AuditEntry,
    Firing,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Message,
    Session,
    Stand,
)
from scheduling.selectors.open_space import open_firings
from scheduling.services.cancelling import cancel_session
from scheduling.services.kiln_jobs import SizeAsked, step_done
from scheduling.services.moving import move_session
from scheduling.services.offered_space import offer, withdraw
from scheduling.services.open_shelves import add_pieces, leave
from scheduling.services.seats import reserve_class_seat
from studios.models import Equipment, Person, StaffedHours
from tests.invariants import broken
from tests.services.kiln_work import a_job, booked, load_at, with_shelves
from tests.services.test_booking import book as book_class
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
SMALL = (SizeAsked(count=2, length_mm=100, width_mm=80),)
LARGE = (SizeAsked(count=1, length_mm=500, width_mm=400),)


@pytest.fixture
def kiln(town: Town) -> Equipment:
    """Three shelves of 600 by 500 mm."""
    kiln = with_shelves(town)
    kiln.shelf_levels, kiln.capacity_cm2 = 3, 9000
    kiln.save()
    return kiln


@pytest.fixture
def session(town: Town, kiln: Equipment, clock: time_machine.Traveller) -> Session:
    """Tiles on Tuesday evening; its six pieces take 600 cm² of the kiln."""
    return book_class(town, "tiles", local(1, 18))


@pytest.fixture
def firing(session: Session) -> Firing:
    return Firing.objects.get(loads__session=session)


def adds(town: Town, firing: Firing, actor: Person | None = None, **facts: Any) -> KilnJob:
    asked = {"sizes": SMALL, "glass": town.glasses["fusing-90"], "thickness_mm": 6.0, **facts}
    return add_pieces(actor=actor or town.student, firing=firing, **asked)


def test_the_class_keeps_as_few_shelves_as_it_needs_and_others_stand_above(
    town: Town, session: Session, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)

    job = adds(town, firing)

    firing.refresh_from_db()
    assert (firing.shelves_kept, firing.takes_more_until) == (1, firing.occupancy.starts_at)
    assert set(Stand.objects.filter(load__job=job).values_list("level", flat=True)) == {2}
    assert job.status == KilnJobStatus.BOOKED
    assert AuditEntry.objects.filter(did="offer-space", subject=firing.uid).count() == 1
    assert Message.objects.filter(person=town.instructor, subject="Added to your firing: tiles").exists()
    assert broken() == []


def test_more_is_kept_where_the_class_takes_more_of_a_shelf(
    town: Town, session: Session, firing: Firing
) -> None:
    firing.loads.update(footprint_cm2=2000)

    offer(actor=town.instructor, firing=firing)

    assert firing.shelves_kept == 2


def test_a_further_shelf_is_washed_in_staffed_hours_in_time_and_only_once(town: Town, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing)

    job = adds(town, firing)
    other = adds(town, firing, town.other_student)

    (step,) = JobStep.objects.all()
    assert (step.job, step.load, step.does, step.pieces) == (job, job.loads.get(), Handwork.WASH_SHELVES, 2)
    dry = (firing.occupancy.starts_at - step.ends_at).total_seconds() / 3600
    assert dry == 8
    assert other.steps.count() == 0


def test_where_no_hour_is_left_to_wash_a_shelf_nothing_is_added(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    offer(actor=town.instructor, firing=firing)
    clock.move_to(local(1, 13))

    with pytest.raises(NoShelfSpace, match="no hour is left") as refused:
        adds(town, firing)

    assert refused.value.facts["reason"] == "wash"
    assert KilnJob.objects.count() == JobStep.objects.count() == 0
    assert open_firings(town.student) == []


def test_a_shelf_that_is_washed_already_takes_more_until_loading_begins(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    offer(actor=town.instructor, firing=firing)
    adds(town, firing)
    clock.move_to(local(1, 13))

    job = adds(town, firing, town.other_student)

    assert set(Stand.objects.filter(load__job=job).values_list("level", flat=True)) == {2}
    with pytest.raises(NoShelfSpace, match="a further one could be washed") as refused:
        adds(town, firing, town.other_student, sizes=LARGE)
    assert refused.value.facts["reason"] == "wash"


def test_whoever_stands_on_a_shelf_has_it_washed_when_the_first_there_leave(
    town: Town, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    first, second = adds(town, firing), adds(town, firing, town.other_student)
    (step,) = first.steps.all()

    leave(actor=town.student, job=first)

    step.refresh_from_db()
    assert (step.job, step.load) == (second, second.loads.get())
    leave(actor=town.other_student, job=second)
    assert JobStep.objects.count() == 0
    assert broken() == []


def test_a_shelf_that_was_washed_stays_with_those_it_was_washed_for(
    town: Town, firing: Firing, clock: time_machine.Traveller
) -> None:
    offer(actor=town.instructor, firing=firing)
    first = adds(town, firing)
    adds(town, firing, town.other_student)
    (step,) = first.steps.all()
    step_done(actor=town.technician, step=step)

    leave(actor=town.student, job=first)

    step.refresh_from_db()
    assert (step.job, step.load) == (first, None)


def test_a_job_that_shares_its_firing_takes_guests_on_shelves_that_are_not_laid(
    town: Town, kiln: Equipment, clock: time_machine.Traveller
) -> None:
    job = a_job(town, shares_space=True)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)
    firing = Firing.objects.get()

    low, high = adds(town, firing), adds(town, firing, town.other_student, sizes=LARGE)

    assert set(Stand.objects.filter(load__job=low).values_list("level", flat=True)) <= {1, 2}
    assert list(Stand.objects.filter(load__job=high).values_list("level", flat=True)) == [3]
    assert [step.job for step in JobStep.objects.all()] == [high]


def test_the_kiln_takes_no_more_than_its_capacity_of_all_together(
    town: Town, kiln: Equipment, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    kiln.capacity_cm2 = 2000
    kiln.save()

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing, sizes=LARGE)

    assert refused.value.facts["reason"] == "full"


@pytest.mark.parametrize("who", ["instructor", "technician", "manager"])
def test_who_teaches_it_or_looks_after_firings_opens_and_closes_it(
    town: Town, firing: Firing, who: str
) -> None:
    offer(actor=town.people[who], firing=firing)
    withdraw(actor=town.people[who], firing=firing)

    firing.refresh_from_db()
    assert firing.takes_more_until is None


@pytest.mark.parametrize("who", ["student", "other_instructor", "stranger"])
def test_nobody_else_does_not_even_who_stands_beside_it(town: Town, firing: Firing, who: str) -> None:
    offer(actor=town.instructor, firing=firing)
    adds(town, firing)

    for service in (offer, withdraw):
        with pytest.raises(NotAllowed):
            service(actor=town.people[who], firing=firing)


def test_closed_again_what_was_added_stays(town: Town, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing)
    adds(town, firing)

    withdraw(actor=town.instructor, firing=firing)

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing, town.other_student)
    assert refused.value.facts["reason"] == "closed"
    assert firing.loads.count() == 2


def test_it_is_changed_but_not_over_what_others_have_added(town: Town, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing, shelves_kept=2)
    assert firing.shelves_kept == 2
    offer(actor=town.instructor, firing=firing, shelves_kept=1, until=local(1, 12))
    adds(town, firing)

    with pytest.raises(InvalidInput) as refused:
        offer(actor=town.instructor, firing=firing, shelves_kept=2)

    assert refused.value.field == "shelves_kept"
    firing.refresh_from_db()
    assert (firing.shelves_kept, firing.takes_more_until) == (1, local(1, 12))


@pytest.mark.parametrize("kept", [-1, 0, 3, 4])
def test_at_least_one_shelf_is_kept_and_one_left(town: Town, firing: Firing, kept: int) -> None:
    with pytest.raises(InvalidInput) as refused:
        offer(actor=town.instructor, firing=firing, shelves_kept=kept)

    assert refused.value.facts["reason"] == "shelves-kept"


def test_no_fewer_are_kept_than_its_pieces_cover(town: Town, firing: Firing) -> None:
    firing.loads.update(footprint_cm2=2800)

    with pytest.raises(InvalidInput) as refused:
        offer(actor=town.instructor, firing=firing, shelves_kept=1)

    assert refused.value.facts["reason"] == "shelves-kept"


@pytest.mark.parametrize(
    ("kiln_facts", "recipe", "reason"),
    [
        ({"shelf_length_mm": None, "shelf_width_mm": None}, "full-fuse", "not-measured"),
        ({"shelf_levels": 1}, "full-fuse", "no-shelf-left"),
        ({}, "slump", "not-stacked"),
        ({}, "kiln-cast", "not-stacked"),
        ({}, "anneal", "program"),
    ],
)
def test_why_a_firing_cannot_be_opened(
    town: Town, kiln: Equipment, firing: Firing, kiln_facts: dict[str, Any], recipe: str, reason: str
) -> None:
    Equipment.objects.filter(pk=kiln.pk).update(**kiln_facts)
    Firing.objects.filter(pk=firing.pk).update(recipe=recipe)

    with pytest.raises(InvalidInput) as refused:
        offer(actor=town.instructor, firing=firing)

    assert (refused.value.field, refused.value.facts["reason"]) == ("firing", reason)
    assert Firing.objects.get().takes_more_until is None


def test_once_it_is_loaded_it_is_too_late(town: Town, firing: Firing, clock: time_machine.Traveller) -> None:
    clock.move_to(firing.occupancy.starts_at)

    with pytest.raises(Over, match="has begun"):
        offer(actor=town.instructor, firing=firing)


def test_only_a_class_keeps_shelves(town: Town, kiln: Equipment, clock: time_machine.Traveller) -> None:
    job = a_job(town)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)

    with pytest.raises(InvalidInput) as refused:
        offer(actor=town.instructor, firing=Firing.objects.get(), shelves_kept=1)

    assert refused.value.facts["reason"] == "no-class"


def test_when_the_class_is_called_off_the_guests_are_fired_as_they_stand(
    town: Town, session: Session, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    guest = adds(town, firing)

    cancel_session(actor=town.instructor, session=session)

    firing.refresh_from_db()
    assert firing.status == "booked"
    assert [load.job for load in firing.loads.all()] == [guest]
    assert (firing.shelves_kept, firing.takes_more_until) == (1, firing.occupancy.starts_at)
    more = adds(town, firing, town.other_student)
    assert set(Stand.objects.filter(load__job=more).values_list("level", flat=True)) == {2}
    assert broken() == []


def test_when_the_class_moves_the_guests_stay_where_they_are(
    town: Town, session: Session, firing: Firing
) -> None:
    offer(actor=town.instructor, firing=firing)
    guest = adds(town, firing)

    move_session(actor=town.instructor, session=session, starts_at=local(8, 18))

    firing.refresh_from_db()
    assert [load.job for load in firing.loads.all()] == [guest]
    own = Firing.objects.get(loads__session=session)
    assert (own.takes_more_until, own.shelves_kept) == (None, None)
    assert broken() == []


class TestAnotherClass:
    def test_an_instructor_brings_what_a_class_of_theirs_made(self, town: Town, firing: Firing) -> None:
        offer(actor=town.instructor, firing=firing)
        other = book_class(town, "beads", local(2, 18), instructor=town.other_instructor)
        for student in (town.student, town.other_student):
            reserve_class_seat(actor=student, session=other)
        sizes = (
            SizeAsked(count=3, length_mm=60, width_mm=60),
            SizeAsked(count=1, length_mm=80, width_mm=80, makers=("Guest",)),
        )

        job = adds(town, firing, town.other_instructor, sizes=sizes, session=other)

        assert (job.title, job.owner) == ("beads", town.other_instructor)
        pieces = job.pieces.order_by("number")
        assert [piece.maker_name or piece.maker for piece in pieces] == [
            town.student,
            town.other_student,
            town.student,
            "Guest",
        ]
        told = Message.objects.filter(person=town.instructor, subject="Added to your firing: tiles")
        assert told.count() == 1

    @pytest.mark.parametrize("who", ["student", "other_instructor"])
    def test_nobody_brings_pieces_for_the_class_of_somebody_else(
        self, town: Town, session: Session, firing: Firing, who: str
    ) -> None:
        offer(actor=town.instructor, firing=firing)

        with pytest.raises(InvalidInput) as refused:
            adds(town, firing, town.people[who], session=session)

        assert refused.value.field == "session"


def test_what_is_open_says_how_much_is_free_and_what_must_be_washed(town: Town, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing)

    (found,) = open_firings(town.student)

    assert (found.shelves, found.further, found.levels.first) == (2, 2, 2)
    assert found.free_cm2 == 2 * 58 * 48
    assert found.wash is not None


def test_without_anybody_who_loads_no_shelf_is_washed(town: Town, firing: Firing) -> None:
    offer(actor=town.instructor, firing=firing)
    StaffedHours.objects.filter(studio=town.flame).update(may_load=False)

    with pytest.raises(NoShelfSpace) as refused:
        adds(town, firing)

    assert refused.value.facts["reason"] == "wash"
