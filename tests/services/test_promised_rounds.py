"""What goes on by itself: offers, decisions, reminders and day sheets, by the clock of each studio."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import pytest
import time_machine

from scheduling.models import AuditEntry, Face, Message, Session
from scheduling.selectors.duties import duties_on
from scheduling.services.cancelling import cancel_session
from scheduling.services.day_sheets import send_day_sheets
from scheduling.services.decisions import flag_sessions
from scheduling.services.in_line import join_line
from scheduling.services.leases import take
from scheduling.services.line_going_on import go_on
from scheduling.services.reminders import remind
from scheduling.services.rounds import ROUNDS, make_rounds
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.services.test_booking import book
from tests.services.test_line import NINE, full_class, give_back, line_of
from tests.worlds import FIRST_MONDAY, Town, local

pytestmark = pytest.mark.django_db
MINUTE, HOUR, DAY = dt.timedelta(minutes=1), dt.timedelta(hours=1), dt.timedelta(days=1)
Clock = time_machine.Traveller
SUNDAY = 6  # its night has 23 hours: at two the clocks jump to three


@pytest.fixture
def clock() -> Iterator[Clock]:
    """Monday at nine, until it is moved."""
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def told(person: Person, beginning: str) -> list[str]:
    """What a person was told under a subject that begins so."""
    found = Message.objects.filter(person=person, subject__startswith=beginning)
    return list(found.order_by("pk").values_list("body", flat=True))


class TestLines:
    """Offers lapse and go on, whoever makes the round."""

    def test_an_offer_that_nobody_took_goes_on_at_its_minute(self, town: Town, clock: Clock) -> None:
        session = full_class(town)
        join_line(actor=town.student, session=session)
        join_line(actor=town.other_student, session=session)
        give_back(session)
        clock.shift(12 * HOUR - MINUTE)
        assert go_on() == 0

        clock.shift(MINUTE)

        assert go_on() == 1
        assert line_of(session) == [("Student", "lapsed"), ("Other_Student", "offered")]
        assert go_on() == 0

    @pytest.mark.usefixtures("clock")
    def test_more_seats_are_offered_to_those_who_wait(self, town: Town) -> None:
        town.courses["tiles"].seats = 1
        town.courses["tiles"].save()
        session = book(town, "tiles", local(4, 18))
        reserve_class_seat(actor=town.student, session=session)
        join_line(actor=town.other_student, session=session)

        Session.objects.filter(pk=session.pk).update(seats=2)

        assert go_on() == 1
        assert line_of(session) == [("Other_Student", "offered")]

    def test_a_line_is_closed_an_hour_before_and_who_waits_is_told_once(
        self, town: Town, clock: Clock
    ) -> None:
        session = full_class(town)
        join_line(actor=town.student, session=session)
        clock.move_to(local(4, 16, 59))
        assert go_on() == 0

        clock.shift(MINUTE)

        assert (go_on(), go_on()) == (1, 0)
        assert line_of(session) == [("Student", "left")]
        assert len(told(town.student, "No seat came free: beads")) == 1

    def test_whoever_dies_in_the_round_is_succeeded(self, town: Town, clock: Clock) -> None:
        session = full_class(town)
        join_line(actor=town.student, session=session)
        give_back(session)
        clock.shift(12 * HOUR)
        assert take("kept-seats", every=30 * MINUTE / 60, lasts=2 * MINUTE) is not None
        assert "kept-seats" not in make_rounds()

        clock.shift(2 * MINUTE)

        assert make_rounds()["kept-seats"] == 1
        assert line_of(session) == [("Student", "lapsed")]

    def test_what_a_round_does_is_noted_as_such(self, town: Town, clock: Clock) -> None:
        session = full_class(town)
        join_line(actor=town.student, session=session)
        join_line(actor=town.other_student, session=session)
        give_back(session)
        clock.shift(12 * HOUR)

        make_rounds()

        entry = AuditEntry.objects.get(did="offer", said__startswith="Other_Student")
        assert (entry.actor, entry.face) == (None, Face.ROUND)


class TestDecisions:
    """Three days before, by the studio's own days, it is said that too few people come."""

    def small_class(self, town: Town, day: int = 4, needs: int = 2) -> Session:
        town.courses["beads"].min_seats = needs
        town.courses["beads"].save()
        return book(town, "beads", local(day, 18))

    def test_on_the_decision_day_instructor_and_manager_are_told_once(self, town: Town, clock: Clock) -> None:
        session = self.small_class(town)
        reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(0, 23, 59))
        assert flag_sessions() == 0

        clock.shift(MINUTE)

        assert (flag_sessions(), flag_sessions()) == (1, 0)
        for person in (town.instructor, town.manager):
            (body,) = told(person, "Below its least number: beads")
            assert "Fri 7 Mar 2031, 18:00 CST: 1 seat is booked, and it needs 2" in body
        assert told(town.student, "Below its least number") == []
        assert AuditEntry.objects.get(did="flag").subject == session.uid

    def test_a_day_is_the_studios_day_whatever_the_clocks_do(self, town: Town, clock: Clock) -> None:
        """Monday less three days is Friday, although Sunday has an hour less."""
        self.small_class(town, day=7)
        clock.move_to(local(3, 23, 59))
        assert flag_sessions() == 0

        clock.shift(MINUTE)

        assert flag_sessions() == 1

    def test_enough_people_are_no_reason_to_tell_anybody(self, town: Town, clock: Clock) -> None:
        session = self.small_class(town)
        for person in (town.student, town.other_student):
            reserve_class_seat(actor=person, session=session)
        clock.move_to(local(2, 12))

        assert flag_sessions() == 0

    def test_whoever_is_made_manager_later_is_told_too_and_nobody_else_twice(
        self, town: Town, clock: Clock
    ) -> None:
        self.small_class(town)
        clock.move_to(local(2, 12))
        flag_sessions()
        town.flame.memberships.create(person=town.stranger, role="manager")

        flag_sessions()

        assert len(told(town.stranger, "Below its least number")) == 1
        assert len(told(town.manager, "Below its least number")) == 1

    def test_a_class_called_off_or_begun_is_past_deciding(self, town: Town, clock: Clock) -> None:
        gone, begun = self.small_class(town, day=4), self.small_class(town, day=1)
        cancel_session(actor=town.instructor, session=gone)
        clock.move_to(begun.starts_at)

        assert flag_sessions() == 0


class TestReminders:
    """A day before, as time passes."""

    def test_who_sits_and_who_teaches_is_reminded_once_in_time(self, town: Town, clock: Clock) -> None:
        session = book(town, "beads", local(4, 18))
        reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(3, 17, 59))
        assert remind() == 0

        clock.shift(MINUTE)

        assert (remind(), remind()) == (2, 0)
        (body,) = told(town.student, "To come: beads")
        assert "Fri 7 Mar 2031, 18:00 CST, to Fri 7 Mar 2031, 21:00 CST: seat 1, torch 1" in body
        (body,) = told(town.instructor, "To teach: beads")
        assert "1 of 5 seats are booked" in body

    def test_a_day_before_is_24_hours_before_also_when_the_clocks_change(
        self, town: Town, clock: Clock
    ) -> None:
        session = book(town, "beads", local(SUNDAY, 18))
        reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(SUNDAY - 1, 16, 59))
        assert remind() == 0

        clock.shift(MINUTE)

        assert remind() == 2
        assert "Sun 9 Mar 2031, 18:00 CDT" in told(town.student, "To come: beads")[0]

    def test_a_moved_class_is_reminded_anew(self, town: Town, clock: Clock) -> None:
        session = book(town, "beads", local(4, 18))
        seat = reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(3, 20))
        remind()
        for row in (session, seat):
            row.starts_at, row.ends_at = row.starts_at + DAY, row.ends_at + DAY
            row.sequence += 1
            row.save()
        assert remind() == 0

        clock.move_to(local(4, 20))

        assert remind() == 2
        assert len(told(town.student, "To come: beads")) == 2

    def test_whoever_books_later_than_that_needs_no_reminder(self, town: Town, clock: Clock) -> None:
        session = book(town, "beads", local(4, 18))
        clock.move_to(local(4, 9))
        reserve_class_seat(actor=town.student, session=session)

        remind()

        assert told(town.student, "To come") == []

    def test_a_round_that_is_late_reminds_until_the_class_begins(self, town: Town, clock: Clock) -> None:
        session = book(town, "beads", local(4, 18))
        reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(4, 17, 59))
        assert remind() == 2

        other = book(town, "beads", local(5, 18))
        reserve_class_seat(actor=town.student, session=other)
        clock.move_to(local(5, 18))

        assert remind() == 0

    def test_a_torch_in_bench_time_is_reminded_of_and_one_given_back_is_not(
        self, town: Town, clock: Clock
    ) -> None:
        def bench(number: int, person: Person) -> object:
            torch, begin = town.torches[number], local(4, 12)
            return reserve_bench_torch(actor=person, torch=torch, starts_at=begin, ends_at=begin + HOUR)

        bench(2, town.student)
        cancel_seat(actor=town.other_student, seat=bench(3, town.other_student))  # type: ignore[arg-type]
        clock.move_to(local(3, 12))

        assert (remind(), remind()) == (1, 0)
        assert "torch 3 at Flame, Fri 7 Mar 2031, 12:00 CST" in told(town.student, "To come: torch 3")[0]

    def test_a_studio_that_reminds_nobody_reminds_nobody(self, town: Town, clock: Clock) -> None:
        town.flame.remind_h = 0
        town.flame.save()
        book(town, "beads", local(4, 18))
        clock.move_to(local(4, 17))

        assert remind() == 0


class TestDaySheets:
    """At six by the studio's clock, once a day."""

    def test_the_technician_reads_what_to_light_load_and_unload(self, town: Town, clock: Clock) -> None:
        book(town, "blowing", local(1, 18))
        clock.move_to(local(1, 5, 59))
        assert send_day_sheets() == 0

        clock.shift(MINUTE)

        assert (send_day_sheets(), send_day_sheets()) == (1, 0)
        (body,) = told(town.technician, "Hot shop, Tue 4 Mar")
        assert "Times by the clock of Hot shop." in body
        for line in ("CST  light hole 1 (blowing, Instructor)", "CST  switch on annealer 1"):
            assert line in body
        assert told(town.manager, "Hot shop") == []

    @pytest.mark.usefixtures("clock")
    def test_the_morning_after_the_night_is_unloaded(self, town: Town) -> None:
        session = book(town, "blowing", local(1, 18))
        unload_at = session.loads.get().firing.unload_at

        (duty,) = duties_on(town.hot_shop, FIRST_MONDAY + 2 * DAY)

        assert (duty.at, duty.does, duty.what) == (unload_at, "unload", "annealer 1")

    @pytest.mark.parametrize(
        ("day", "at", "first"),
        [
            # At 02:00 on 9 March the clocks jump to 03:00: 02:30 never comes, and 03:00 follows 01:59.
            (dt.date(2031, 3, 9), dt.time(2, 30), "2031-03-09T08:00:00+00:00"),
            # At 02:00 on 2 November the clocks go back to 01:00: 01:30 comes twice, first as CDT.
            (dt.date(2031, 11, 2), dt.time(1, 30), "2031-11-02T06:30:00+00:00"),
        ],
    )
    def test_a_sheet_comes_once_on_a_day_when_the_clocks_change(
        self, town: Town, clock: Clock, day: dt.date, at: dt.time, first: str
    ) -> None:
        begin = dt.datetime.fromisoformat(first)
        clock.move_to(begin - 10 * HOUR)
        book(town, "blowing", dt.datetime.combine(day, dt.time(18), town.hot_shop.zone))
        town.hot_shop.day_sheet_at = at
        town.hot_shop.save()
        clock.move_to(begin - MINUTE)
        assert send_day_sheets() == 0

        clock.shift(MINUTE)
        assert send_day_sheets() == 1
        for _ in range(12):
            clock.shift(15 * MINUTE)
            assert send_day_sheets() == 0

    def test_a_day_with_nothing_to_do_has_no_sheet(self, town: Town, clock: Clock) -> None:
        clock.move_to(local(1, 6))

        assert duties_on(town.flame, FIRST_MONDAY + DAY) == ()
        assert send_day_sheets() == 0

    def test_a_sheet_that_nobody_sent_in_time_is_sent_the_same_day_only(
        self, town: Town, clock: Clock
    ) -> None:
        book(town, "blowing", local(1, 18))
        clock.move_to(local(1, 23))
        assert send_day_sheets() == 1

        clock.move_to(local(3, 9))

        assert send_day_sheets() == 0

    @pytest.mark.usefixtures("clock")
    def test_the_torches_of_a_class_are_one_line(self, town: Town) -> None:
        book(town, "beads", local(1, 18))

        lines = [(duty.does, duty.what) for duty in duties_on(town.flame, FIRST_MONDAY + DAY)]

        assert ("purge and check", "torch 1, torch 2, torch 3, torch 4, torch 5") in lines


@pytest.mark.parametrize("each", [go_on, flag_sessions, remind, send_day_sheets])
def test_a_turn_that_is_lost_is_noticed_before_anything_is_written(
    town: Town, clock: Clock, each: Callable[[Callable[[], None]], int]
) -> None:
    town.courses["beads"].min_seats = 5
    town.courses["beads"].save()
    session = full_class(town, day=1)
    join_line(actor=town.student, session=session)
    give_back(session)
    clock.move_to(local(1, 17))
    before = Message.objects.count()

    class LostError(Exception):
        """Somebody else has the turn."""

    def lost() -> None:
        raise LostError

    with pytest.raises(LostError):
        each(lost)

    assert Message.objects.count() == before


def test_the_rounds_of_promises_stand_in_the_table() -> None:
    every = {each.name: each.every for each in ROUNDS}

    assert every["kept-seats"] == dt.timedelta(seconds=30)
    assert {"decisions", "reminders", "day-sheets"} <= set(every)
