"""The mails of a life, one after another or all mixed up, leave a calendar as the feed has it."""

from __future__ import annotations

import datetime as dt
from itertools import permutations

import pytest

from scheduling.models import Message, Series, Session
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.keeping import book_kept, keep_seat
from scheduling.services.moving import move_session
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.services.own_calendar import OwnCalendar, feed_of, feed_sequences
from tests.services.test_assistants import an_instructor, assisted
from tests.services.test_booking import book
from tests.services.test_series import TUESDAYS, weekly
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def mails_to(person: Person) -> list[Message]:
    return list(person.messages.exclude(invitation="").order_by("pk"))


def calendar_of(person: Person) -> OwnCalendar:
    return OwnCalendar().get(mails_to(person))


def agrees_with_the_feed(person: Person) -> bool:
    """The same takes place, and neither knows of a later change than the other."""
    own, feed = calendar_of(person), feed_sequences(person)
    known = own.sequences()
    return own.shown() == feed_of(person) and all(known[uid] == count for uid, count in feed.items())


def meeting_on(series: Series, week: int) -> Session:
    return series.sessions.order_by("planned_at")[week]


def test_a_seat_from_its_booking_to_the_day_it_is_called_off(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = book_kept(actor=town.student, seat=keep_seat(actor=town.student, session=session))
    uid = str(seat.uid)
    assert calendar_of(town.student).shown() == {(uid, local(1, 18), local(1, 21))}

    move_session(actor=town.instructor, session=session, starts_at=local(2, 10))
    assert calendar_of(town.student).shown() == {(uid, local(2, 10), local(2, 13))}
    assert agrees_with_the_feed(town.student)
    assert agrees_with_the_feed(town.instructor)

    cancel_session(actor=town.instructor, session=session)
    assert calendar_of(town.student).shown() == set()
    assert agrees_with_the_feed(town.student)
    assert agrees_with_the_feed(town.instructor)


def test_seats_come_and_go_and_no_other_is_touched(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    given_back = reserve_class_seat(actor=town.student, session=session)
    torch = reserve_bench_torch(
        actor=town.student, torch=town.torches[6], starts_at=local(2, 14), ends_at=local(2, 16)
    )

    cancel_seat(actor=town.student, seat=given_back)
    again = reserve_class_seat(actor=town.student, session=session)
    cancel_seat(actor=town.manager, seat=torch)

    assert calendar_of(town.student).shown() == {(str(again.uid), local(1, 18), local(1, 21))}
    assert agrees_with_the_feed(town.student)


def test_a_class_goes_to_somebody_else_and_comes_back(town: Town) -> None:
    session = book(town, "blowing", local(1, 18))
    for teacher in (town.other_instructor, town.instructor, town.other_instructor):
        move_session(actor=town.manager, session=session, starts_at=local(1, 18), instructor=teacher)

        other = {town.instructor, town.other_instructor} - {teacher}
        assert calendar_of(teacher).shown() == {(str(session.uid), local(1, 18), local(1, 21))}
        assert calendar_of(other.pop()).shown() == set()
        assert agrees_with_the_feed(teacher)


def test_mails_that_overtake_one_another_leave_the_same_calendar(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)
    for day in (2, 3, 4):
        move_session(actor=town.instructor, session=session, starts_at=local(day, 18))

    calendars = [OwnCalendar().get(mails) for mails in permutations(mails_to(town.student))]

    assert len(calendars) == 24
    assert all(calendar.shown() == feed_of(town.student) for calendar in calendars)


def test_a_weekly_class_one_meeting_moved_one_called_off_and_one_given_away(town: Town) -> None:
    series = weekly(town)
    uid = str(series.uid)
    on_tuesdays = {(uid, local(1 + 7 * week, 18), local(1 + 7 * week, 21)) for week in range(6)}
    assert calendar_of(town.instructor).shown() == on_tuesdays

    move_session(actor=town.instructor, session=meeting_on(series, 1), starts_at=local(9, 10))
    assert agrees_with_the_feed(town.instructor)
    cancel_session(actor=town.instructor, session=meeting_on(series, 2))
    assert agrees_with_the_feed(town.instructor)
    move_session(
        actor=town.manager,
        session=meeting_on(series, 3),
        starts_at=local(22, 18),
        instructor=town.other_instructor,
    )
    assert calendar_of(town.instructor).shown() == {
        (uid, local(day, hour), local(day, hour + 3)) for day, hour in ((1, 18), (9, 10), (29, 18), (36, 18))
    }
    assert calendar_of(town.other_instructor).shown() == {(uid, local(22, 18), local(22, 21))}
    assert agrees_with_the_feed(town.instructor)
    assert agrees_with_the_feed(town.other_instructor)


def test_a_weekly_class_that_is_called_off_is_gone_in_whatever_order_the_mails_arrive(town: Town) -> None:
    series = weekly(town)
    move_session(actor=town.instructor, session=meeting_on(series, 1), starts_at=local(9, 10))
    move_session(actor=town.instructor, session=meeting_on(series, 1), starts_at=local(8, 18))
    cancel_session(actor=town.instructor, session=meeting_on(series, 0))
    cancel_series(actor=town.instructor, series=series)

    calendars = [OwnCalendar().get(mails) for mails in permutations(mails_to(town.instructor))]

    assert len(calendars) == 120
    assert {frozenset(calendar.shown()) for calendar in calendars} == {frozenset()}
    assert agrees_with_the_feed(town.instructor)


def test_whoever_assists_in_some_weeks_sees_these_until_they_are_needed_no_more(town: Town) -> None:
    assisted(town, "blowing", 1)
    helper = an_instructor(town, "Helper", town.hot_shop)
    book(town, "tiles", local(8, 18), town.other_instructor)
    series = weekly(town, TUESDAYS[:3])
    uid = str(series.uid)
    assert calendar_of(helper).shown() == {(uid, local(8, 18), local(8, 21))}
    assert agrees_with_the_feed(town.other_instructor)

    assisted(town, "blowing", 0)
    move_session(actor=town.instructor, session=meeting_on(series, 0), starts_at=local(1, 18))
    assert (uid, local(1, 18), local(1, 21)) not in calendar_of(town.other_instructor).shown()
    assert (uid, local(15, 18), local(15, 21)) in calendar_of(town.other_instructor).shown()
    assert agrees_with_the_feed(town.other_instructor)
    assert agrees_with_the_feed(town.instructor)

    cancel_series(actor=town.manager, series=series)
    for person in (town.instructor, town.other_instructor, helper):
        assert uid not in {uid for uid, _, _ in calendar_of(person).shown()}
        assert agrees_with_the_feed(person)


def test_a_move_over_the_change_of_clocks_is_read_right(town: Town) -> None:
    series = weekly(town)
    session = meeting_on(series, 0)
    seat = reserve_class_seat(actor=town.student, session=session)

    move_session(actor=town.instructor, session=session, starts_at=local(6, 18))

    assert calendar_of(town.student).shown() == {(str(seat.uid), local(6, 18), local(6, 21))}
    assert local(6, 18) - local(1, 18) == dt.timedelta(days=5)
    assert agrees_with_the_feed(town.student)
    assert agrees_with_the_feed(town.instructor)
