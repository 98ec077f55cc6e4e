"""A seat is kept while its form is filled in: until a clock time, and nobody keeps one for ever."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.errors import (
    InvalidInput,
    KeptLongerOnce,
    KeptOver,
    KeptTooOften,
    NoSeatLeft,
    NoStart,
    NotAllowed,
    Over,
    PersonBusy,
    SeatsPromised,
    SeatTaken,
    SeriesSpoilt,
    TooManyKept,
)
from scheduling.models import (
    AuditEntry,
    BookingStatus,
    LineStatus,
    Message,
    Occupancy,
    PersonSpan,
    Seat,
    SeatStatus,
    Session,
    WaitingPlace,
)
from scheduling.services.cancelling import cancel_session
from scheduling.services.keeping import (
    book_kept,
    keep_longer,
    keep_seat,
    keep_torch,
    lapse_kept,
    let_go,
)
from scheduling.services.moving import move_session
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from scheduling.services.series import book_series
from studios.models import Person
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_seats import another_student
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
TEN = dt.timedelta(minutes=10)
NINE = local(0, 9)


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Monday at nine, until it is moved."""
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def kept_torch(town: Town, number: int = 1, person: Person | None = None, hour: int = 12) -> Seat:
    """Two hours at a torch on Tuesday, kept."""
    return keep_torch(
        actor=person or town.student,
        torch=town.torches[number - 1],
        starts_at=local(1, hour),
        ends_at=local(1, hour + 2),
    )


def test_a_kept_seat_is_nobody_elses_and_takes_no_time_of_the_person(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "boro", local(1, 18))

    seat = keep_seat(actor=town.student, session=session)

    assert (seat.status, seat.number, seat.kept_until) == (SeatStatus.KEPT, 1, NINE + TEN)
    assert not PersonSpan.objects.filter(person=town.student).exists()
    assert not Message.objects.filter(person=town.student).exists()
    with pytest.raises(NoSeatLeft):
        reserve_class_seat(actor=town.other_student, session=session)


def test_a_page_names_a_whole_minute_and_the_seat_is_kept_until_it(
    town: Town, clock: time_machine.Traveller
) -> None:
    clock.move_to(NINE + dt.timedelta(seconds=20))

    seat = keep_seat(actor=town.student, session=book(town, "beads", local(1, 18)))

    assert seat.kept_until == NINE + dt.timedelta(minutes=11)


def test_a_kept_seat_is_booked_with_a_note_and_another_torch(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "beads", local(1, 18))
    seat = keep_seat(actor=town.student, session=session)
    keep_seat(actor=town.other_student, session=session)

    with pytest.raises(SeatTaken):
        book_kept(actor=town.student, seat=seat, torch=town.torches[1])
    booked = book_kept(actor=town.student, seat=seat, note=" left-handed ", torch=town.torches[4])

    booked.refresh_from_db()
    assert (booked.status, booked.note, booked.torch) == (SeatStatus.BOOKED, "left-handed", town.torches[4])
    assert booked.kept_until is None
    assert PersonSpan.objects.get(person=town.student).seat == booked
    assert Message.objects.filter(person=town.student, subject="Reserved: beads, seat 1").count() == 1
    with pytest.raises(Over, match="is booked already"):
        book_kept(actor=town.student, seat=seat)


def test_a_note_has_a_length(town: Town, clock: time_machine.Traveller) -> None:
    seat = keep_seat(actor=town.student, session=book(town, "beads", local(1, 18)))

    with pytest.raises(InvalidInput, match="at most 200 characters"):
        book_kept(actor=town.student, seat=seat, note="x" * 201)


def test_past_its_time_it_is_void_and_the_room_goes_to_whoever_needs_it(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "boro", local(1, 18))
    seat = keep_seat(actor=town.student, session=session)
    clock.move_to(NINE + TEN)

    with pytest.raises(KeptOver, match="was kept until Mon 3 Mar 2031, 09:10 CST"):
        book_kept(actor=town.student, seat=seat)
    taken = reserve_class_seat(actor=town.other_student, session=session)

    assert (taken.number, taken.person) == (1, town.other_student)
    seat.refresh_from_db()
    assert seat.status == SeatStatus.CANCELLED
    entry = AuditEntry.objects.get(did="lapse")
    assert (entry.actor, entry.subject) == (None, seat.uid)


def moved(town: Town) -> None:
    session = Session.objects.first() or book(town, "beads", local(2, 12))
    move_session(actor=town.instructor, session=session, starts_at=local(1, 12))


def booked_weekly(town: Town) -> None:
    book_series(
        actor=town.instructor,
        course=town.courses["beads"],
        studio=town.flame,
        instructor=town.instructor,
        days=[dt.date(2031, 3, 4), dt.date(2031, 3, 11)],
        time=dt.time(12),
    )


@pytest.mark.parametrize(
    "take",
    [lambda town: book(town, "beads", local(1, 12)), moved, booked_weekly],
    ids=["book", "move", "weekly"],
)
def test_a_torch_that_was_kept_too_long_is_in_no_class_s_way(
    town: Town, clock: time_machine.Traveller, take: Callable[[Town], object]
) -> None:
    """The class draws all the oxygen there is, and nobody has come by yet to give the torch up."""
    seat = kept_torch(town, 8)
    with pytest.raises((NoStart, SeriesSpoilt)):
        take(town)
    clock.shift(TEN)

    take(town)

    seat.refresh_from_db()
    assert Session.objects.filter(starts_at=local(1, 12), status="booked").exists()
    assert (seat.status, seat.booking.status if seat.booking else "") == ("cancelled", "cancelled")
    assert AuditEntry.objects.filter(did="lapse", subject=seat.uid).count() == 1
    assert broken() == []


def test_a_minute_before_its_time_it_is_still_kept(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "boro", local(1, 18))
    seat = keep_seat(actor=town.student, session=session)
    clock.move_to(NINE + TEN - dt.timedelta(seconds=1))

    with pytest.raises(NoSeatLeft):
        keep_seat(actor=town.other_student, session=session)
    assert lapse_kept() == 0
    book_kept(actor=town.student, seat=seat)


def test_it_is_kept_longer_once(town: Town, clock: time_machine.Traveller) -> None:
    seat = keep_seat(actor=town.student, session=book(town, "beads", local(1, 18)))
    clock.move_to(NINE + dt.timedelta(minutes=9))

    keep_longer(actor=town.student, seat=seat)

    assert seat.kept_until == NINE + 2 * TEN
    with pytest.raises(KeptLongerOnce, match="book it until Mon 3 Mar 2031, 09:20 CST"):
        keep_longer(actor=town.student, seat=seat)
    clock.move_to(NINE + 2 * TEN)
    with pytest.raises(KeptOver):
        keep_longer(actor=town.student, seat=seat)


def test_keeping_anew_gives_the_same_seat_with_the_time_it_has(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "beads", local(1, 18))
    seat = keep_seat(actor=town.student, session=session)
    clock.move_to(NINE + dt.timedelta(minutes=5))

    again = keep_seat(actor=town.student, session=session, torch=town.torches[2])

    assert (again.pk, again.kept_until, again.torch) == (seat.pk, NINE + TEN, town.torches[2])
    assert Seat.objects.count() == 1


def test_a_seat_that_lapsed_may_be_kept_again_and_longer_again_but_not_for_ever(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "beads", local(1, 18))
    for round_number in range(3):
        clock.move_to(NINE + round_number * 3 * TEN)
        keep_longer(actor=town.student, seat=keep_seat(actor=town.student, session=session))
    clock.move_to(NINE + 9 * TEN)

    with pytest.raises(KeptTooOften, match="kept 3 times within a day"):
        keep_seat(actor=town.student, session=session)
    assert keep_seat(actor=town.other_student, session=session).number == 1
    assert reserve_class_seat(actor=town.student, session=session).number == 2


def test_letting_it_go_and_keeping_it_anew_is_counted_too(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "beads", local(2, 18))
    for _ in range(3):
        let_go(actor=town.student, seat=keep_seat(actor=town.student, session=session))

    with pytest.raises(KeptTooOften):
        keep_seat(actor=town.student, session=session)
    clock.move_to(local(1, 9, 1))
    keep_seat(actor=town.student, session=session)


def test_three_seats_are_kept_at_a_time(town: Town, clock: time_machine.Traveller) -> None:
    sessions = [book(town, "boro", local(day, 18)) for day in range(1, 5)]
    kept = [keep_seat(actor=town.student, session=session) for session in sessions[:2]]
    kept_torch(town)

    with pytest.raises(TooManyKept, match="Student keeps 3 seats already"):
        keep_seat(actor=town.student, session=sessions[3])
    let_go(actor=town.student, seat=kept[0])
    keep_seat(actor=town.student, session=sessions[3])


def test_the_one_step_way_books_the_seat_that_is_kept(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "boro", local(1, 18))
    kept = keep_seat(actor=town.student, session=session)

    booked = reserve_class_seat(actor=town.student, session=session)

    assert (booked.pk, booked.status) == (kept.pk, SeatStatus.BOOKED)


def test_a_kept_torch_holds_its_oxygen_and_its_time_is_taken_when_it_is_booked(
    town: Town, clock: time_machine.Traveller
) -> None:
    seats = [kept_torch(town, number, another_student(town, number)) for number in range(1, 6)]

    with pytest.raises(NoStart, match="oxygen"):
        kept_torch(town, 6)
    book_kept(actor=seats[0].person, seat=seats[0])

    assert PersonSpan.objects.get().seat == seats[0]
    assert Occupancy.objects.count() == 5


def test_a_torch_kept_too_long_gives_its_oxygen_back_to_whoever_comes(
    town: Town, clock: time_machine.Traveller
) -> None:
    for number in range(1, 6):
        kept_torch(town, number, another_student(town, number))
    clock.move_to(NINE + TEN)

    reserve_bench_torch(
        actor=town.student, torch=town.torches[5], starts_at=local(1, 12), ends_at=local(1, 14)
    )

    assert Occupancy.objects.get().equipment == town.torches[5]
    assert Seat.objects.filter(booking__status=BookingStatus.CANCELLED).count() == 5


def test_the_round_gives_up_what_nobody_needed(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "beads", local(1, 18))
    keep_seat(actor=town.student, session=session)
    kept_torch(town, 7)
    held = Occupancy.objects.filter(booking=session.booking).count()
    clock.move_to(NINE + TEN)
    steps: list[int] = []

    lapsed = lapse_kept(between=lambda: steps.append(1))

    assert (lapsed, len(steps)) == (2, 2)
    assert set(Seat.objects.values_list("status", flat=True)) == {SeatStatus.CANCELLED}
    assert Occupancy.objects.filter(booking__isnull=False).count() == held
    assert lapse_kept() == 0


def test_the_torch_kept_in_these_hours_is_the_one_that_is_booked(
    town: Town, clock: time_machine.Traveller
) -> None:
    kept = kept_torch(town)
    assert kept_torch(town).pk == kept.pk

    booked = reserve_bench_torch(
        actor=town.student, torch=town.torches[0], starts_at=local(1, 12), ends_at=local(1, 14)
    )

    assert booked.pk == kept.pk
    assert Occupancy.objects.count() == 1


def test_whoever_took_something_else_meanwhile_is_told_when_booking(
    town: Town, clock: time_machine.Traveller
) -> None:
    seat = kept_torch(town)
    reserve_class_seat(actor=town.student, session=book(town, "boro", local(1, 13)))

    with pytest.raises(PersonBusy, match="Student already has boro"):
        book_kept(actor=town.student, seat=seat)


def test_a_seat_let_go_is_free_and_no_deadline_binds_it(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "boro", local(0, 14))
    seat = keep_seat(actor=town.student, session=session)

    let_go(actor=town.student, seat=seat)

    assert reserve_class_seat(actor=town.other_student, session=session).number == 1
    with pytest.raises(KeptOver):
        book_kept(actor=town.student, seat=seat)


def test_a_booked_seat_is_not_let_go(town: Town, clock: time_machine.Traveller) -> None:
    seat = reserve_class_seat(actor=town.student, session=book(town, "boro", local(1, 18)))

    with pytest.raises(Over, match="give it back instead"):
        let_go(actor=town.student, seat=seat)


def test_a_kept_seat_belongs_to_its_person_and_to_who_reserves_for_others(
    town: Town, clock: time_machine.Traveller
) -> None:
    seat = keep_seat(actor=town.student, session=book(town, "boro", local(1, 18)))

    for service in (book_kept, keep_longer, let_go):
        with pytest.raises(NotAllowed):
            service(actor=town.other_student, seat=seat)
    book_kept(actor=town.instructor, seat=seat)

    assert PersonSpan.objects.get(seat=seat).person == town.student


def test_a_kept_seat_in_a_class_that_is_called_off_is_not_booked(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "boro", local(1, 18))
    seat = keep_seat(actor=town.student, session=session)
    cancel_session(actor=town.instructor, session=session)

    with pytest.raises((Over, KeptOver)):
        book_kept(actor=town.student, seat=seat)


def test_nobody_passes_those_who_wait(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "beads", local(1, 18))
    for number in range(4):
        reserve_class_seat(actor=another_student(town, number), session=session)
    WaitingPlace.objects.create(session=session, person=town.other_student)

    with pytest.raises(SeatsPromised, match="promised to the waiting line"):
        keep_seat(actor=town.student, session=session)
    with pytest.raises(SeatsPromised):
        reserve_class_seat(actor=town.student, session=session)
    reserve_class_seat(actor=town.other_student, session=session)

    assert WaitingPlace.objects.get().status == LineStatus.TAKEN


def test_an_offered_seat_is_booked_or_let_go_and_has_its_own_deadline(
    town: Town, clock: time_machine.Traveller
) -> None:
    session = book(town, "boro", local(3, 18))
    seat = keep_seat(actor=town.student, session=session)
    place = WaitingPlace.objects.create(
        session=session, person=town.student, seat=seat, status=LineStatus.OFFERED
    )

    with pytest.raises(Over, match="deadline of its own"):
        keep_longer(actor=town.student, seat=seat)
    book_kept(actor=town.student, seat=seat)

    place.refresh_from_db()
    assert place.status == LineStatus.TAKEN


def test_who_waits_and_could_not_sit_there_holds_nobody_up(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "boro", local(1, 18))
    WaitingPlace.objects.create(session=session, person=town.other_student)
    reserve_bench_torch(
        actor=town.other_student, torch=town.torches[6], starts_at=local(1, 17), ends_at=local(1, 19)
    )

    reserve_class_seat(actor=town.student, session=session)


@pytest.mark.parametrize("done", ["lapse", "let-go"])
def test_an_offer_that_is_not_taken_is_over(town: Town, clock: time_machine.Traveller, done: str) -> None:
    session = book(town, "boro", local(3, 18))
    seat = keep_seat(actor=town.student, session=session)
    place = WaitingPlace.objects.create(
        session=session, person=town.student, seat=seat, status=LineStatus.OFFERED
    )

    if done == "lapse":
        clock.move_to(NINE + TEN)
        lapse_kept()
    else:
        let_go(actor=town.student, seat=seat)

    place.refresh_from_db()
    assert place.status == (LineStatus.LAPSED if done == "lapse" else LineStatus.LEFT)


def test_every_step_is_noted_with_who_did_it(town: Town, clock: time_machine.Traveller) -> None:
    session = book(town, "boro", local(3, 18))
    seat = keep_longer(actor=town.student, seat=keep_seat(actor=town.student, session=session))
    cancel_seat(actor=town.instructor, seat=book_kept(actor=town.student, seat=seat))

    rows = AuditEntry.objects.filter(subject=seat.uid).order_by("pk")
    assert [(row.did, row.actor) for row in rows] == [
        ("keep", town.student),
        ("keep-longer", town.student),
        ("reserve", town.student),
        ("give-back", town.instructor),
    ]
    assert rows[0].said == "seat 1, torch 1, for Student, boro at Flame, Thu 6 Mar 2031, 18:00 CST"
