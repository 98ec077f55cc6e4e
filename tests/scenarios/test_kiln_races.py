"""Many want the same kiln nights at once: one plan is booked whole, the others get a fresh answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
import time_machine

from scheduling.errors import PlanGone
from scheduling.models import (
    BookingStatus,
    Firing,
    KilnAnswer,
    KilnJob,
    KilnJobStatus,
    Load,
    Piece,
    PieceEvent,
    PieceState,
    Stand,
)
from scheduling.services.kiln_answers import seek
from scheduling.services.kiln_booking import book, cancel
from scheduling.services.kiln_jobs import SizeAsked
from scheduling.services.open_shelves import add_pieces
from scheduling.services.pick_up import unload
from scheduling.services.pieces import hand_over
from studios.models import Equipment, Person
from tests.invariants import broken
from tests.scenarios.test_races import at_once, crowd
from tests.services.kiln_work import a_job, answered, booked, load_at, planned, second_kiln, with_shelves
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def _monday() -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=True):
        yield


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


@pytest.fixture
def kiln(town: Town) -> Equipment:
    return with_shelves(town)


def _book(answer: KilnAnswer, actor: Person) -> Callable[[], object]:
    mine = KilnAnswer.objects.select_related("job").get(pk=answer.pk)
    return lambda: book(actor=actor, answer=mine)


def _booked_or_sought_anew(answer: KilnAnswer, actor: Person) -> Callable[[], object]:
    """As a page does it: a plan that is gone is sought afresh, and the fresh one is booked."""
    mine = KilnAnswer.objects.select_related("job").get(pk=answer.pk)

    def act() -> None:
        found = mine
        for _ in range(6):
            try:
                book(actor=actor, answer=found)
            except PlanGone:
                found = seek(actor=actor, job=found.job)
            else:
                return

    return act


def test_of_many_who_book_the_same_nights_one_has_them_whole_and_the_rest_nothing(
    town: Town, kiln: Equipment
) -> None:
    jobs = [a_job(town, title=f"Job {number}", route="fuse-slump") for number in range(6)]
    answers = [
        answered(job, planned(load_at(job, kiln, local(1, 18)), load_at(job, kiln, local(4, 18), step=2)))
        for job in jobs
    ]

    outcomes = at_once([_book(answer, town.instructor) for answer in answers], 6)

    assert outcomes["done"] == 1
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "plan-gone"}
    (won,) = KilnJob.objects.filter(status=KilnJobStatus.BOOKED)
    assert set(Load.objects.values_list("job", flat=True)) == {won.pk}
    assert Firing.objects.count() == 2
    assert Stand.objects.exclude(load__job=won).count() == 0
    assert broken() == []


def test_plans_that_cross_in_their_nights_and_kilns_lock_nobody_out(town: Town, kiln: Equipment) -> None:
    other = second_kiln(town)
    plans = [
        (kiln, local(1, 18), other, local(4, 18)),
        (other, local(1, 18), kiln, local(4, 18)),
    ]
    answers = []
    for number, (first, begins, second, then) in enumerate(plans * 3):
        job = a_job(town, title=f"Job {number}", route="fuse-slump")
        plan = planned(load_at(job, first, begins), load_at(job, second, then, step=2))
        answers.append(answered(job, plan))

    outcomes = at_once([_book(answer, town.instructor) for answer in answers], 6)

    assert outcomes["done"] == 2
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "plan-gone"}
    assert broken() == []


def test_two_people_and_the_same_nights_one_is_booked_and_the_other_gets_a_fresh_answer(
    town: Town, kiln: Equipment
) -> None:
    first, second = (
        seek(actor=person, job=a_job(town, person, title=person.name))
        for person in (town.instructor, town.other_instructor)
    )
    assert (first.plan or {})["loads"][0]["begins"] == (second.plan or {})["loads"][0]["begins"]

    outcomes = at_once(
        [
            _booked_or_sought_anew(first, town.instructor),
            _booked_or_sought_anew(second, town.other_instructor),
        ],
        2,
    )

    assert outcomes == {"done": 2}
    assert KilnJob.objects.filter(status=KilnJobStatus.BOOKED).count() == 2
    one, other = Firing.objects.order_by("last_in_at")
    assert one.occupancy.ends_at <= other.occupancy.starts_at
    assert KilnAnswer.objects.count() == 3
    assert broken() == []


def test_of_many_who_plan_one_job_anew_at_once_one_takes_the_place_of_what_was_booked(
    town: Town, kiln: Equipment
) -> None:
    job, other = a_job(town), second_kiln(town)
    book(actor=town.instructor, answer=answered(job, planned(load_at(job, kiln, local(1, 18)))))
    plans = [planned(load_at(job, other, local(day, 18))) for day in range(2, 8)]
    answers = [answered(job, plan) for plan in plans]

    outcomes = at_once([_book(answer, town.instructor) for answer in answers], 6)

    assert outcomes["done"] == 1
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "over"}
    assert job.loads.get().firing.equipment == other
    assert Firing.objects.filter(status=BookingStatus.BOOKED).count() == 1
    assert Stand.objects.count() == job.pieces.count()
    assert broken() == []


def test_one_job_in_many_windows_is_booked_once(town: Town, kiln: Equipment) -> None:
    answer = answered(job := a_job(town), planned(load_at(job, kiln, local(1, 18))))

    outcomes = at_once([_book(answer, town.instructor)] * 8, 8)

    assert outcomes["done"] == 1
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "over"}
    assert Firing.objects.count() == 1


def test_many_add_to_the_last_room_on_a_shelf(town: Town, kiln: Equipment) -> None:
    job = a_job(town, shares_space=True)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)
    people, firing = crowd(town, 8), Firing.objects.get()
    sizes = [SizeAsked(count=1, length_mm=240, width_mm=200)]

    def add(person: Person) -> Callable[[], object]:
        facts: dict[str, Any] = {"sizes": sizes, "glass": town.glasses["fusing-90"], "thickness_mm": 6.0}
        mine = Firing.objects.get(pk=firing.pk)
        return lambda: add_pieces(actor=person, firing=mine, **facts)

    outcomes = at_once([add(person) for person in people], 8)

    assert 0 < outcomes["done"] < 8
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "no-shelf-space"}
    assert firing.loads.count() == 1 + outcomes["done"]
    assert broken() == []


def test_called_off_and_booked_at_once_the_kiln_is_held_by_what_is_booked(
    town: Town, kiln: Equipment
) -> None:
    going, coming = a_job(town, title="Going"), a_job(town, title="Coming")
    answer = answered(coming, planned(load_at(coming, kiln, local(1, 18))))
    booked(going, load_at(going, kiln, local(1, 18)), actor=town.instructor)
    mine = KilnJob.objects.get(pk=going.pk)

    at_once([lambda: cancel(actor=town.instructor, job=mine), _book(answer, town.instructor)], 2)

    going.refresh_from_db()
    coming.refresh_from_db()
    assert going.status == KilnJobStatus.CANCELLED
    assert coming.status in {KilnJobStatus.ASKED, KilnJobStatus.BOOKED}
    assert Firing.objects.filter(status="booked").count() == (coming.status == KilnJobStatus.BOOKED)
    assert broken() == []


def test_a_piece_is_handed_over_once(town: Town, kiln: Equipment) -> None:
    job = a_job(town)
    booked(job, load_at(job, kiln, local(1, 18)), actor=town.instructor)
    with time_machine.travel(local(3, 12)):
        firing = Firing.objects.get()
        unload(actor=town.technician, firing=firing, shelves=dict.fromkeys(firing.loads.all(), "shelf 3"))
        pieces = list(job.pieces.all())

        outcomes = at_once([lambda: hand_over(actor=town.technician, pieces=pieces)] * 6, 6)

    assert outcomes["done"] == 1
    assert {outcome.split(":")[0] for outcome in outcomes} == {"done", "over"}
    assert set(Piece.objects.values_list("state", flat=True)) == {PieceState.HANDED_OVER}
    assert PieceEvent.objects.filter(state=PieceState.HANDED_OVER).count() == 6
