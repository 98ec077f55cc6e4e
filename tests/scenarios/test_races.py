"""Many at once for the last one: one wins, the others get the same clear answer, on both databases."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection

from scheduling.models import BookingStatus, Occupancy, PersonSpan, Seat, Session, SupplyUse
from scheduling.services.booking import book_session
from scheduling.services.charges import book_charge
from scheduling.services.moving import move_session
from scheduling.services.refills import record_refill
from scheduling.services.rehearsing import rehearse_move
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.errors import LehrbookError
from studios.models import Membership, Person, Pot, Qualification
from tests.invariants import broken
from tests.services.test_assistants import HOT, an_instructor
from tests.services.test_booking import book
from tests.services.test_rooms import a_room
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 16
ATTEMPTS = 200


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


def outcome(act: Callable[[], object]) -> str:
    """What came of one attempt: "done", or its refusal. Any other error fails the test."""
    try:
        act()
    except LehrbookError as error:
        return f"{error.code}: {error}"
    finally:
        connection.close()
    return "done"


def at_once(acts: Sequence[Callable[[], object]], threads: int) -> Counter[str]:
    """Run attempts on so many threads, all let loose together."""
    gate = Barrier(threads)

    def run(mine: Sequence[Callable[[], object]]) -> list[str]:
        gate.wait(timeout=30)
        return [outcome(act) for act in mine]

    with ThreadPoolExecutor(threads) as pool:
        shares = [acts[start::threads] for start in range(threads)]
        return Counter(answer for answers in pool.map(run, shares) for answer in answers)


def crowd(town: Town, count: int) -> list[Person]:
    """That many students of the flame studio."""
    people = Person.objects.bulk_create(
        Person(email=f"crowd{number}@town.example", name=f"Crowd {number}") for number in range(count)
    )
    Membership.objects.bulk_create(
        Membership(person=person, studio=town.flame, role="student") for person in people
    )
    Qualification.objects.bulk_create(
        Qualification(person=person, studio=town.flame, kind="torch") for person in people
    )
    return people


def test_200_attempts_on_the_last_torch_seat_by_16_threads_give_it_to_one(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    people = crowd(town, 4 + ATTEMPTS)
    for person in people[:4]:
        reserve_class_seat(actor=person, session=session)

    answers = at_once([_reserve(person, session) for person in people[4:]], THREADS)

    full = "no-seat-left: No seat is left in beads on Tue 4 Mar 2031, 18:00 CST."
    assert answers == {"done": 1, full: ATTEMPTS - 1}
    seats = Seat.objects.filter(session=session, status=BookingStatus.BOOKED)
    assert sorted(seats.values_list("number", flat=True)) == [1, 2, 3, 4, 5]
    assert seats.values("torch").distinct().count() == 5


def _reserve(person: Person, session: Session) -> Callable[[], object]:
    return lambda: reserve_class_seat(actor=person, session=session)


def test_one_student_in_many_windows_gets_one_seat(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    answers = at_once([_reserve(town.student, session)] * 32, THREADS)

    assert answers["done"] == 1
    assert sum(answers.values()) == 32
    assert {answer.split(":")[0] for answer in answers} == {"done", "person-busy"}


def test_two_different_torches_race_for_the_last_oxygen(town: Town) -> None:
    people = crowd(town, 8)
    for number in range(1, 5):
        _bench(town, people[number - 1], number, 12)()
    for hour in range(4):
        begin = 13 + hour
        for number in range(1, 5):
            _bench(town, people[number - 1], number, begin)()

    for hour in range(5):
        acts = [_bench(town, people[4 + k], 5 + k, 12 + hour) for k in range(4)]
        answers = at_once(acts, 4)
        assert answers["done"] == 1
        assert {answer.split(":")[0] for answer in answers} == {"done", "no-start"}

    assert _most_oxygen_at_once(town) == 30


def test_many_torches_race_for_the_last_places_in_the_room(town: Town) -> None:
    room = a_room(town, "flame room", 3, *(torch.name for torch in town.torches))
    people = crowd(town, 8)

    answers = at_once([_bench(town, people[n], 1 + n, 12) for n in range(4)] * 2, 4)

    assert answers["done"] == 3
    assert {answer.split(":")[0] for answer in answers} <= {"done", "no-start", "person-busy"}
    assert SupplyUse.objects.filter(supply=room).count() == 3


def _bench(town: Town, person: Person, number: int, hour: int) -> Callable[[], object]:
    begin = local(1, hour, 10)
    return lambda: reserve_bench_torch(
        actor=person,
        torch=town.equipment[f"torch {number}"],
        starts_at=begin,
        ends_at=begin + dt.timedelta(minutes=50),
    )


def _most_oxygen_at_once(town: Town) -> float:
    uses = SupplyUse.objects.filter(supply=town.supplies["oxygen"])
    rows = list(uses.values_list("starts_at", "ends_at", "amount"))
    return max(sum(amount for begin, end, amount in rows if begin <= at < end) for at, _, _ in rows)


def test_many_torches_race_for_the_last_litres_in_the_cylinder(town: Town) -> None:
    oxygen, people = town.supplies["oxygen"], crowd(town, 8)
    oxygen.content = 3 * 6 * 55  # three times a torch for 50 minutes, purged for 5
    oxygen.save()
    record_refill(actor=town.technician, supply=oxygen, at=local(0, 8))
    acts = [_bench(town, people[number], 1 + number, 11 + number) for number in range(8)]

    answers = at_once(acts, 8)

    assert answers["done"] == 3
    assert {answer.split(":")[0] for answer in answers} == {"done", "no-start"}
    assert SupplyUse.objects.filter(supply=oxygen).count() == 3


def test_classes_race_for_the_last_kilograms_in_the_pot(town: Town) -> None:
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)
    book_charge(actor=town.technician, furnace=town.equipment["furnace"], starts_at=local(0, 8))
    town.courses["blowing"].glass_kg_per_seat = 3.5
    town.courses["blowing"].save()
    teachers = [town.instructor, town.other_instructor] * 3
    acts = [_blowing(town, 2 + day, teacher) for day, teacher in enumerate(teachers)]

    answers = at_once(acts, 6)

    assert answers["done"] == 2  # 21 kg each, and 60 kg above the floor
    assert {answer.split(":")[0] for answer in answers} == {"done", "no-start"}
    assert Occupancy.objects.filter(glass_kg__gt=0).count() == 2


def _blowing(town: Town, day: int, teacher: Person) -> Callable[[], object]:
    return lambda: book(town, "blowing", local(day, 18), teacher)


def test_a_charge_races_with_a_class_for_the_furnace(town: Town) -> None:
    Pot.objects.create(furnace=town.equipment["furnace"], capacity_kg=100, floor_kg=40)

    def charge() -> object:
        return book_charge(actor=town.technician, furnace=town.equipment["furnace"], starts_at=local(1, 8))

    answers = at_once([charge, _class(town, "blowing", 1)], 2)

    assert sorted(answer.split(":")[0] for answer in answers) == ["done", "no-start"]


def test_one_instructor_races_for_two_studios(town: Town) -> None:
    for day in range(5):
        acts = [
            _class(town, "blowing", day),
            _class(town, "tiles", day),
        ]
        answers = at_once(acts, 2)
        assert sorted(answer.split(":")[0] for answer in answers) == ["done", "no-start"]
        refused = next(answer for answer in answers if answer != "done")
        assert "Instructor has" in refused

    assert PersonSpan.objects.filter(person=town.instructor).count() == 5


def test_two_instructors_in_two_studios_race_for_one_assistant(town: Town) -> None:
    for name in ("blowing", "tiles"):
        town.courses[name].assistants = 1
        town.courses[name].save()
    Membership.objects.filter(person=town.instructor, studio=town.flame).delete()
    Membership.objects.filter(person=town.other_instructor, studio=town.hot_shop).delete()
    helper = an_instructor(town, "Helper", town.hot_shop, town.flame, kinds=(*HOT, "kiln", "cold-station"))

    for day in range(4):
        blowing = [lambda day=day: book(town, "blowing", local(day, 18), town.instructor)]
        tiles = [lambda day=day: book(town, "tiles", local(day, 18), town.other_instructor)]
        answers = at_once([*blowing, *tiles], 2)
        assert sorted(answer.split(":")[0] for answer in answers) == ["done", "no-start"]
        refused = next(answer for answer in answers if answer != "done")
        assert "needs 1 assistant, and nobody is free: Helper has" in refused

    assert PersonSpan.objects.filter(person=helper).count() == 4
    assert Session.objects.filter(assistants=helper).count() == 4


def _class(town: Town, course: str, day: int) -> Callable[[], object]:
    chosen = town.courses[course]
    return lambda: book_session(
        actor=town.instructor,
        course=chosen,
        studio=chosen.studios.get(),
        instructor=town.instructor,
        starts_at=local(day, 18),
    )


def test_two_classes_race_for_the_last_glory_hole(town: Town) -> None:
    town.equipment["hole 2"].delete()
    acts = [
        lambda: book(town, "blowing", local(1, 18), town.instructor),
        lambda: book(town, "blowing", local(1, 19), town.other_instructor),
    ]

    answers = at_once(acts, 2)

    assert answers["done"] == 1
    assert Occupancy.objects.filter(equipment=town.equipment["hole 1"]).count() == 1


def test_reserving_and_giving_back_at_once_leaves_one_seat_for_each_person(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    people = crowd(town, 8)

    def come_and_go(person: Person) -> Callable[[], object]:
        def act() -> None:
            seat = reserve_class_seat(actor=person, session=session)
            cancel_seat(actor=person, seat=seat)
            reserve_class_seat(actor=person, session=session)

        return act

    answers = at_once([come_and_go(person) for person in people for _ in range(3)], 8)

    standing = Seat.objects.filter(session=session, status=BookingStatus.BOOKED)
    assert standing.count() == 5
    assert standing.values("person").distinct().count() == 5
    assert sum(answers.values()) == 24


def test_classes_moved_to_one_hour_at_once_go_there_one_by_one(town: Town) -> None:
    town.equipment["hole 2"].delete()
    sessions = [
        book(town, "blowing", local(day, 18), teacher)
        for day, teacher in ((1, town.instructor), (2, town.other_instructor), (3, town.instructor))
    ]
    moves = [_move(session, local(4, 18)) for session in sessions]

    answers = at_once([*moves, *(_rehearse(session, local(4, 18)) for session in sessions)], 6)

    there = Session.objects.filter(starts_at=local(4, 18))
    assert there.count() == 1
    assert answers["done"] == 4
    assert {answer.split(":")[0] for answer in answers} == {"done", "no-start"}
    assert broken() == []


def _move(session: Session, starts_at: dt.datetime) -> Callable[[], object]:
    mine = Session.objects.get(pk=session.pk)
    return lambda: move_session(actor=mine.instructor, session=mine, starts_at=starts_at)


def _rehearse(session: Session, starts_at: dt.datetime) -> Callable[[], object]:
    mine = Session.objects.get(pk=session.pk)
    return lambda: rehearse_move(actor=mine.instructor, session=mine, starts_at=starts_at)


def test_a_seat_taken_while_its_class_moves_is_where_the_class_is(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    people = crowd(town, 12)

    at_once([_move(session, local(2, 18)), *(_reserve(person, session) for person in people)], 13)

    seats = Seat.objects.filter(session=session, status=BookingStatus.BOOKED)
    assert seats.count() == 5
    assert {seat.starts_at for seat in seats} == {local(2, 18)}
    assert {span.starts_at for span in PersonSpan.objects.filter(seat__in=seats)} == {local(2, 18)}
    assert broken() == []
