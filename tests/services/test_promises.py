"""What a seat promises: until when it is given back, what it costs, what must have been taken and read."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
import time_machine

from scheduling.errors import (
    DeadlineOver,
    EarlierCourseNeeded,
    InvalidInput,
    NotAllowed,
    SafetyUnread,
)
from scheduling.models import AuditEntry, Course, EarlierCourse, Message, Seat, SeatStatus
from scheduling.selectors.safety import to_acknowledge
from scheduling.services.cancelling import cancel_session
from scheduling.services.earlier import take_back, vouch
from scheduling.services.keeping import book_kept, keep_seat, keep_torch
from scheduling.services.prices import price_of_hours
from scheduling.services.safety import acknowledge
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Acknowledgement, SafetyText, Term
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
MONDAY = local(0, 9)


def test_a_student_gives_a_seat_back_until_the_studios_deadline(town: Town) -> None:
    session = book(town, "beads", local(3, 18))
    seats = [reserve_class_seat(actor=one, session=session) for one in (town.student, town.other_student)]

    with time_machine.travel(local(2, 18), tick=False):
        cancel_seat(actor=town.student, seat=seats[0])
    with (
        time_machine.travel(local(2, 18, 1), tick=False),
        pytest.raises(DeadlineOver, match="until Wed 5 Mar 2031, 18:00 CST; now only Flame gives it back"),
    ):
        cancel_seat(actor=town.other_student, seat=seats[1])


def test_after_the_deadline_the_studio_gives_it_back(town: Town) -> None:
    seat = reserve_class_seat(actor=town.student, session=book(town, "beads", local(3, 18)))

    with time_machine.travel(local(3, 17), tick=False):
        cancel_seat(actor=town.instructor, seat=seat)

    assert seat.status == SeatStatus.CANCELLED


def test_a_deadline_is_in_elapsed_hours_when_the_clocks_go_forward(town: Town) -> None:
    # Between Saturday and Sunday the clocks jump from 02:00 to 03:00: 24 h before 12:00 it is 11:00.
    seat = reserve_class_seat(actor=town.student, session=book(town, "beads", local(6, 12)))

    with (
        time_machine.travel(local(5, 11, 1), tick=False),
        pytest.raises(DeadlineOver, match="until Sat 8 Mar 2031, 11:00 CST"),
    ):
        cancel_seat(actor=town.student, seat=seat)
    with time_machine.travel(local(5, 11), tick=False):
        cancel_seat(actor=town.student, seat=seat)


def test_a_studio_without_a_deadline_takes_seats_back_until_they_begin(town: Town) -> None:
    town.flame.cancel_deadline_h = 0
    town.flame.save()
    seat = reserve_class_seat(actor=town.student, session=book(town, "beads", local(3, 18)))

    with time_machine.travel(local(3, 17, 59), tick=False):
        cancel_seat(actor=town.student, seat=seat)


def test_a_seat_whose_class_was_moved_is_bound_by_no_deadline(town: Town) -> None:
    seat = reserve_class_seat(actor=town.student, session=book(town, "beads", local(3, 18)))
    Seat.objects.update(moved_at=local(2, 12))

    with time_machine.travel(local(3, 17, 59), tick=False):
        cancel_seat(actor=town.student, seat=Seat.objects.get(pk=seat.pk))


def builds_on(town: Town, course: str, *earlier: str) -> Course:
    town.courses[course].requires.set([town.courses[name] for name in earlier])
    return town.courses[course]


def test_a_course_that_builds_on_another_asks_for_a_seat_in_it_before(town: Town) -> None:
    builds_on(town, "boro", "beads")
    session = book(town, "boro", local(5, 18))

    with pytest.raises(
        EarlierCourseNeeded, match="boro builds on beads, which Student has not taken before Sat 8 Mar"
    ):
        reserve_class_seat(actor=town.student, session=session)
    with pytest.raises(EarlierCourseNeeded):
        keep_seat(actor=town.student, session=session)
    reserve_class_seat(actor=town.student, session=book(town, "beads", local(3, 18)))

    assert reserve_class_seat(actor=town.student, session=session).number == 1


@pytest.mark.parametrize("spoilt", ["later", "called off", "given back", "only kept"])
def test_what_is_not_sat_in_before_does_not_count(town: Town, spoilt: str) -> None:
    builds_on(town, "boro", "beads")
    session = book(town, "boro", local(5, 18))
    earlier = book(town, "beads", local(6 if spoilt == "later" else 3, 18))
    if spoilt == "only kept":
        keep_seat(actor=town.student, session=earlier)
    else:
        seat = reserve_class_seat(actor=town.student, session=earlier)
    if spoilt == "called off":
        cancel_session(actor=town.instructor, session=earlier)
    if spoilt == "given back":
        cancel_seat(actor=town.student, seat=seat)

    with pytest.raises(EarlierCourseNeeded):
        reserve_class_seat(actor=town.student, session=session)


def test_each_missing_course_is_named(town: Town) -> None:
    builds_on(town, "boro", "beads", "tiles")
    session = book(town, "boro", local(5, 18))

    with pytest.raises(EarlierCourseNeeded, match="boro builds on beads and tiles"):
        reserve_class_seat(actor=town.instructor, session=session, person=town.student)


def test_an_instructor_vouches_for_what_was_taken_elsewhere_and_takes_it_back(town: Town) -> None:
    course = builds_on(town, "boro", "beads").requires.get()
    who, at = town.instructor, town.flame

    row = vouch(actor=who, studio=at, person=town.student, course=course)
    assert vouch(actor=who, studio=at, person=town.student, course=course) == row
    seat = reserve_class_seat(actor=town.student, session=book(town, "boro", local(5, 18)))
    take_back(actor=who, earlier=row)

    assert Seat.objects.get().pk == seat.pk
    assert not EarlierCourse.objects.exists()
    assert list(AuditEntry.objects.filter(subject=town.student.uid).values_list("did", flat=True)) == [
        "vouch-taken-back",
        "vouch",
    ]


def test_who_vouches_for_whom_and_for_what(town: Town) -> None:
    beads, blowing = town.courses["beads"], town.courses["blowing"]

    for person in (town.student, town.technician):
        with pytest.raises(NotAllowed, match="needs the role instructor"):
            vouch(actor=person, studio=town.flame, person=town.student, course=beads)
    with pytest.raises(InvalidInput, match="somebody who belongs to Flame"):
        vouch(actor=town.manager, studio=town.flame, person=town.stranger, course=beads)
    with pytest.raises(InvalidInput, match="blowing is not taught at Flame"):
        vouch(actor=town.manager, studio=town.flame, person=town.student, course=blowing)


def a_text(town: Town, version: int = 1, since: dt.datetime = MONDAY) -> SafetyText:
    return SafetyText.objects.create(
        studio=town.flame, version=version, body=f"Tie your hair back, version {version}.", since=since
    )


@pytest.fixture
def spring(town: Town) -> Term:
    """A term of two weeks from the first Monday on."""
    days = {"first_day": local(0, 0).date(), "last_day": local(13, 0).date()}
    return Term.objects.create(studio=town.flame, name="Spring", **days)


def test_a_studio_without_a_text_asks_for_nothing(town: Town) -> None:
    assert to_acknowledge(person=town.student, studio=town.flame, day=local(1, 0).date()) is None
    with pytest.raises(InvalidInput, match="has no safety text"):
        acknowledge(person=town.student, studio=town.flame, on_day=local(1, 0).date(), version=1)


def test_nobody_books_unread_and_the_refusal_carries_the_text(town: Town, spring: Term) -> None:
    with time_machine.travel(MONDAY, tick=False):
        text = a_text(town)
        session = book(town, "beads", local(2, 18))

        with pytest.raises(SafetyUnread, match="Read the safety text of Flame, version 1") as refused:
            reserve_class_seat(actor=town.student, session=session)
        seat = reserve_class_seat(actor=town.student, session=session, acknowledged=1)

    assert refused.value.facts["safety_text"] == {"studio": "flame", "version": 1, "body": text.body}
    row = Acknowledgement.objects.get()
    assert (row.person, row.text.version, row.acknowledged_at) == (town.student, 1, MONDAY)
    assert (row.first_day, row.last_day) == (spring.first_day, spring.last_day)
    assert seat.status == SeatStatus.BOOKED


def test_a_refused_booking_leaves_nothing_read(town: Town, spring: Term) -> None:
    with time_machine.travel(MONDAY, tick=False):
        a_text(town)
        session = book(town, "boro", local(2, 18))
        reserve_class_seat(actor=town.other_student, session=session, acknowledged=1)

        with pytest.raises(SafetyUnread):
            reserve_bench_torch(
                actor=town.student, torch=town.torches[6], starts_at=local(1, 12), ends_at=local(1, 13)
            )

    assert not Acknowledgement.objects.filter(person=town.student).exists()


def test_it_is_asked_once_a_term_and_again_in_the_next(town: Town, spring: Term) -> None:
    with time_machine.travel(MONDAY, tick=False):
        a_text(town)
        reserve_class_seat(actor=town.student, session=book(town, "beads", local(2, 18)), acknowledged=1)
        reserve_class_seat(actor=town.student, session=book(town, "beads", local(13, 18)))

        with pytest.raises(SafetyUnread):
            reserve_class_seat(actor=town.student, session=book(town, "beads", local(14, 18)))


def test_a_newer_version_in_the_same_term_is_asked_again_from_when_it_begins(
    town: Town, spring: Term
) -> None:
    with time_machine.travel(MONDAY, tick=False) as clock:
        a_text(town)
        a_text(town, version=2, since=local(1, 9))
        first = book(town, "beads", local(2, 18))
        seat = keep_seat(actor=town.student, session=first)
        book_kept(actor=town.student, seat=seat, acknowledged=1)
        clock.move_to(local(1, 9))
        later = book(town, "beads", local(3, 18))

        with pytest.raises(SafetyUnread, match="version 2"):
            reserve_class_seat(actor=town.student, session=later, acknowledged=1)
        reserve_class_seat(actor=town.student, session=later, acknowledged=2)

    assert set(Acknowledgement.objects.values_list("text__version", flat=True)) == {1, 2}


def test_without_a_term_it_counts_for_the_year_by_the_studios_clock(town: Town) -> None:
    with time_machine.travel(MONDAY, tick=False):
        a_text(town)
        # 23:30 in Chicago is the next year in UTC already.
        day = dt.date(2031, 12, 31)
        row = acknowledge(person=town.student, studio=town.flame, on_day=day, version=1)

        assert (row.first_day, row.last_day) == (dt.date(2031, 1, 1), day)
        assert to_acknowledge(person=town.student, studio=town.flame, day=day) is None
        assert to_acknowledge(person=town.student, studio=town.flame, day=dt.date(2032, 1, 1))


def test_a_seat_booked_by_the_staff_stands_and_its_person_is_asked_to_read(town: Town, spring: Term) -> None:
    with time_machine.travel(MONDAY, tick=False):
        a_text(town)

        seat = reserve_class_seat(
            actor=town.instructor, session=book(town, "beads", local(2, 18)), person=town.student
        )

    assert seat.status == SeatStatus.BOOKED
    told = Message.objects.get(person=town.student, subject="Reserved: beads, seat 1")
    assert "Please read the safety text of Flame before you come" in told.body
    assert not Acknowledgement.objects.exists()


def test_a_term_made_longer_is_covered_by_reading_again(town: Town, spring: Term) -> None:
    with time_machine.travel(MONDAY, tick=False):
        a_text(town)
        acknowledge(person=town.student, studio=town.flame, on_day=spring.last_day, version=1)
        spring.last_day = local(20, 0).date()
        spring.save()

        acknowledge(person=town.student, studio=town.flame, on_day=spring.last_day, version=1)

    assert Acknowledgement.objects.get().last_day == spring.last_day


@pytest.mark.parametrize(
    ("hour", "minutes", "price"),
    [
        (Decimal("12.00"), 90, Decimal("18.00")),
        (Decimal("10.01"), 15, Decimal("2.50")),  # 2.5025
        (Decimal("10.02"), 15, Decimal("2.51")),  # 2.505
        (Decimal("0.00"), 60, Decimal("0.00")),
        (None, 60, None),
    ],
)
def test_hours_are_priced_to_the_cent_half_up(
    hour: Decimal | None, minutes: int, price: Decimal | None
) -> None:
    assert price_of_hours(hour, minutes) == price


def test_the_price_of_a_seat_is_that_of_the_day_it_was_reserved(town: Town) -> None:
    Course.objects.filter(slug="beads").update(price=Decimal("80.00"))
    session = book(town, "beads", local(2, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    Course.objects.filter(slug="beads").update(price=Decimal("90.00"))

    later = reserve_class_seat(actor=town.other_student, session=session)

    assert Seat.objects.get(pk=seat.pk).price == Decimal("80.00")
    assert later.price == Decimal("90.00")


def test_a_kept_torch_costs_its_hours_at_the_price_of_the_day(town: Town) -> None:
    town.flame.torch_hour_price = Decimal("12.50")
    town.flame.currency = "EUR"
    town.flame.save()
    torch = town.torches[0]
    torch.refresh_from_db()

    seat = keep_torch(actor=town.student, torch=torch, starts_at=local(1, 12), ends_at=local(1, 13, 30))
    book_kept(actor=town.student, seat=seat)

    assert seat.price == Decimal("18.75")
    assert "Price: 18.75 EUR." in Message.objects.get(person=town.student).body
