"""Behind a full class people wait in order; what comes free is offered to the first, and nobody overtakes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine

from scheduling.errors import EarlierCourseNeeded, InLineAlready, NoLine, NotAllowed, Over, SeatsPromised
from scheduling.models import AuditEntry, Message, PersonSpan, Seat, Session, WaitingPlace
from scheduling.services.cancelling import cancel_session
from scheduling.services.in_line import join_line, leave_line
from scheduling.services.keeping import book_kept, keep_seat, let_go
from scheduling.services.lapsing import lapse_kept
from scheduling.services.seats import cancel_seat, reserve_class_seat
from studios.models import Person
from tests.services.test_booking import book
from tests.services.test_seats import another_student
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
HOUR = dt.timedelta(hours=1)
NINE = local(0, 9)
Clock = time_machine.Traveller


@pytest.fixture
def clock() -> Iterator[Clock]:
    """Monday at nine, until it is moved."""
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def full_class(town: Town, day: int = 4) -> Session:
    """Five bead makers sit at the five torches of a class on Friday at six."""
    session = book(town, "beads", local(day, 18))
    for number in range(5):
        reserve_class_seat(actor=another_student(town, number), session=session)
    return session


def give_back(session: Session, number: int = 1) -> None:
    seat = session.seat_rows.get(number=number, status="booked")
    cancel_seat(actor=seat.person, seat=seat)


def offered_to(person: Person) -> Seat:
    return person.seats.get(status="kept")


def elsewhere(town: Town) -> Session:
    """At the hot shop, half an hour away, on Friday at five."""
    return book(town, "blowing", local(4, 17), town.other_instructor)


def line_of(session: Session) -> list[tuple[str, str]]:
    """Who stands in the line, or stood there, in order of joining."""
    return list(session.line.order_by("pk").values_list("person__name", "status"))


def subjects(person: Person) -> list[str]:
    return list(person.messages.order_by("pk").values_list("subject", flat=True))


def test_whoever_joined_first_is_offered_the_seat_that_comes_free(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.other_student, session=session)
    join_line(actor=town.student, session=session)

    give_back(session, number=3)

    seat = offered_to(town.other_student)
    assert (seat.number, seat.torch) == (3, town.equipment["torch 3"])
    assert line_of(session) == [("Other_Student", "offered"), ("Student", "waiting")]
    assert not PersonSpan.objects.filter(person=town.other_student).exists()


def test_the_offer_says_its_deadline_by_the_studios_clock(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)

    give_back(session)

    assert offered_to(town.student).kept_until == NINE + 12 * HOUR
    message = Message.objects.get(person=town.student, subject="A seat is free: beads")
    assert "Seat 1, torch 1 is kept for you until Mon 3 Mar 2031, 21:00 CST" in message.body
    assert subjects(town.student) == ["In the waiting line: beads", "A seat is free: beads"]


def test_an_offer_lasts_its_hours_whatever_the_clocks_do_in_the_night(town: Town, clock: Clock) -> None:
    session = full_class(town, day=8)
    join_line(actor=town.student, session=session)
    clock.move_to(local(5, 20))  # on Sunday at two the clocks jump to three

    give_back(session)

    assert "until Sun 9 Mar 2031, 09:00 CDT" in Message.objects.get(subject="A seat is free: beads").body


def test_an_offer_ends_an_hour_before_the_class_at_the_latest(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    clock.move_to(local(4, 9))
    seat = session.seat_rows.get(number=1)

    cancel_seat(actor=town.instructor, seat=seat)

    assert offered_to(town.student).kept_until == local(4, 17)


def test_taking_the_offer_books_the_kept_seat_and_ends_the_waiting(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    give_back(session)

    book_kept(actor=town.student, seat=offered_to(town.student))

    assert line_of(session) == [("Student", "taken")]
    assert PersonSpan.objects.get(person=town.student).starts_at == session.starts_at


@pytest.mark.parametrize("how", ["let it go", "leave the line"])
def test_what_is_declined_goes_to_the_next(town: Town, clock: Clock, how: str) -> None:
    session = full_class(town)
    place = join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    give_back(session)

    if how == "let it go":
        let_go(actor=town.student, seat=offered_to(town.student))
    else:
        leave_line(actor=town.student, place=place)

    assert line_of(session) == [("Student", "left"), ("Other_Student", "offered")]
    assert "The offer has lapsed: beads" not in subjects(town.student)


def test_what_lapses_goes_to_the_next_and_both_are_told_once(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    give_back(session)
    clock.shift(12 * HOUR)

    lapse_kept()
    lapse_kept()

    assert line_of(session) == [("Student", "lapsed"), ("Other_Student", "offered")]
    assert subjects(town.student).count("The offer has lapsed: beads") == 1
    assert subjects(town.other_student).count("A seat is free: beads") == 1


def test_a_lapsed_offer_goes_to_the_next_before_a_newcomer_whoever_comes_first(
    town: Town, clock: Clock
) -> None:
    """No round has come by yet: the newcomer's own request lapses the offer, and finds the next in line."""
    session = full_class(town)
    join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    give_back(session)
    clock.shift(12 * HOUR)

    with pytest.raises(InLineAlready):
        join_line(actor=town.other_student, session=session)
    place = join_line(actor=another_student(town, 6), session=session)

    assert line_of(session) == [
        ("Student", "lapsed"),
        ("Other_Student", "offered"),
        ("Student 6", "waiting"),
    ]
    assert place.seat is None


def test_a_newcomer_does_not_take_what_is_promised(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    give_back(session)

    newcomer = another_student(town, 6)
    for way in (reserve_class_seat, keep_seat):
        with pytest.raises(Exception, match="No seat is left in beads"):
            way(actor=newcomer, session=session)


def test_somebody_busy_then_is_passed_over_and_keeps_the_place(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    meanwhile = reserve_class_seat(actor=town.student, session=elsewhere(town))

    give_back(session, number=1)
    assert line_of(session) == [("Student", "waiting"), ("Other_Student", "offered")]
    cancel_seat(actor=town.student, seat=meanwhile)
    give_back(session, number=2)

    assert line_of(session) == [("Student", "offered"), ("Other_Student", "offered")]


def test_where_all_who_wait_are_busy_a_newcomer_sits_down_or_is_offered_at_once(
    town: Town, clock: Clock
) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    reserve_class_seat(actor=town.student, session=elsewhere(town))
    give_back(session, number=1)
    give_back(session, number=2)

    place = join_line(actor=town.other_student, session=session)
    reserve_class_seat(actor=another_student(town, 6), session=session)

    assert place.status == "offered"
    assert subjects(town.other_student) == ["A seat is free: beads"]


def test_whoever_has_time_again_is_not_overtaken(town: Town, clock: Clock) -> None:
    """Nobody has looked again since the person who waits gave the other seat back."""
    session = full_class(town)
    join_line(actor=town.student, session=session)
    meanwhile = reserve_class_seat(actor=town.student, session=elsewhere(town))
    give_back(session)
    cancel_seat(actor=town.student, seat=meanwhile)

    with pytest.raises(SeatsPromised, match="promised to the waiting line"):
        reserve_class_seat(actor=town.other_student, session=session)


def test_who_may_no_longer_sit_there_is_passed_over(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    town.student.memberships.filter(studio=town.flame).delete()

    give_back(session)

    assert line_of(session) == [("Student", "waiting"), ("Other_Student", "offered")]


def test_there_is_no_line_while_a_seat_is_free(town: Town, clock: Clock) -> None:
    session = book(town, "beads", local(4, 18))

    with pytest.raises(NoLine, match="a seat is free, and can be reserved"):
        join_line(actor=town.student, session=session)


def test_a_line_closes_an_hour_before_the_class(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.other_student, session=session)
    clock.move_to(local(4, 16, 50))

    with pytest.raises(NoLine, match="it closes 1 h before the class"):
        join_line(actor=town.student, session=session)
    cancel_seat(actor=town.instructor, seat=session.seat_rows.get(number=1))
    assert line_of(session) == [("Other_Student", "waiting")]


def test_nobody_waits_twice_nor_for_the_own_seat_nor_for_the_own_class(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)

    with pytest.raises(InLineAlready, match="Student already waits for beads on Fri 7 Mar 2031, 18:00 CST"):
        join_line(actor=town.student, session=session)
    with pytest.raises(InLineAlready, match="Student 2 already has a seat in beads"):
        join_line(actor=Person.objects.get(name="Student 2"), session=session)
    with pytest.raises(InLineAlready, match="Instructor already teaches beads"):
        join_line(actor=town.instructor, session=session)


def test_who_may_wait_is_who_may_sit_there(town: Town, clock: Clock) -> None:
    session = full_class(town)
    session.course.requires.add(town.courses["boro"])

    with pytest.raises(NotAllowed):
        join_line(actor=town.stranger, session=session)
    with pytest.raises(NotAllowed):
        join_line(actor=town.other_student, session=session, person=town.student)
    with pytest.raises(EarlierCourseNeeded):
        join_line(actor=town.student, session=session)


def test_an_instructor_puts_somebody_into_the_line_and_takes_them_out(town: Town, clock: Clock) -> None:
    session = full_class(town)

    place = join_line(actor=town.instructor, session=session, person=town.student)
    with pytest.raises(NotAllowed):
        leave_line(actor=town.other_student, place=place)
    leave_line(actor=town.instructor, place=place)

    assert subjects(town.student) == ["In the waiting line: beads", "Out of the line: beads"]
    with pytest.raises(Over, match="is given up already"):
        leave_line(actor=town.student, place=place)


def test_whoever_left_joins_again_at_the_end(town: Town, clock: Clock) -> None:
    session = full_class(town)
    place = join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)

    leave_line(actor=town.student, place=place)
    join_line(actor=town.student, session=session)

    assert line_of(session) == [("Student", "left"), ("Other_Student", "waiting"), ("Student", "waiting")]


def test_a_class_called_off_empties_its_line_and_tells_everybody_once(town: Town, clock: Clock) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    join_line(actor=town.other_student, session=session)
    give_back(session)

    cancel_session(actor=town.instructor, session=session)

    assert line_of(session) == [("Student", "left"), ("Other_Student", "left")]
    assert not Seat.objects.filter(session=session, status__in=["kept", "booked"]).exists()
    for person in (town.student, town.other_student):
        assert subjects(person).count("Called off: beads") == 1


def test_what_is_done_with_a_line_is_noted(town: Town, clock: Clock) -> None:
    session = full_class(town)
    place = join_line(actor=town.student, session=session)
    give_back(session)
    leave_line(actor=town.student, place=place)

    noted = AuditEntry.objects.filter(said__contains="Student").order_by("pk")
    assert {"join-line", "offer", "let-go"} <= set(noted.values_list("did", flat=True))
    offer = AuditEntry.objects.get(did="offer")
    assert (offer.actor, offer.subject) == (None, WaitingPlace.objects.get().seat.uid)  # type: ignore[union-attr]
