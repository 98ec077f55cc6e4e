"""What is booked, moved or called off goes into the calendars of those whom it concerns, and out of them."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from pytest_django.fixtures import Settings

from scheduling.errors import PersonBusy
from scheduling.models import Message, Seat, Session, WaitingPlace
from scheduling.services import invitations, seating
from scheduling.services.cancelling import cancel_series, cancel_session
from scheduling.services.in_line import join_line, take_offer
from scheduling.services.keeping import book_kept, keep_seat, let_go
from scheduling.services.moving import move_session
from scheduling.services.outages import enter_outage
from scheduling.services.reminders import remind
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.services.own_calendar import Told, told_by
from tests.services.test_assistants import assisted
from tests.services.test_booking import book
from tests.services.test_line import full_class
from tests.services.test_series import seated, weekly
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db

# Method, UID, SEQUENCE and RECURRENCE-ID.
Line = tuple[str, str, int, dt.datetime | None]


def last_told(person: Person) -> list[Told]:
    """What the last message to somebody told their calendar."""
    return told_by(person.messages.order_by("-pk")[0])


def lines(person: Person) -> list[Line]:
    return [(told.method, told.uid, told.sequence, told.stands_for) for told in last_told(person)]


def request(row: Session | Seat, sequence: int) -> list[Line]:
    return [("REQUEST", str(row.uid), sequence, None)]


def cancel(row: Session | Seat, sequence: int) -> list[Line]:
    return [("CANCEL", str(row.uid), sequence, None)]


def test_a_class_is_in_the_calendars_of_who_teaches_and_who_assists(town: Town) -> None:
    assisted(town, "blowing", 1)

    session = book(town, "blowing", local(1, 18))

    for person in (town.instructor, town.other_instructor):
        assert lines(person) == request(session, 0)
        (told,) = last_told(person)
        assert (told.starts_at, told.ends_at, told.status) == (local(1, 18), local(1, 21), "CONFIRMED")
        assert told.attendees == (f"mailto:{person.email}",)


@pytest.mark.parametrize(
    ("address", "organizer"),
    [("desk@flame.example", "mailto:desk@flame.example"), ("", "mailto:book@service.example")],
)
def test_the_studio_invites_and_who_comes_sees_nobody_else(
    town: Town, settings: Settings, address: str, organizer: str
) -> None:
    settings.DEFAULT_FROM_EMAIL = "The book <book@service.example>"
    town.flame.email = address
    town.flame.save()
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session, note="left-handed")

    reserve_class_seat(actor=town.other_student, session=session)

    (told,) = last_told(town.other_student)
    assert told.organizer == organizer
    assert told.attendees == ("mailto:other.student@town.example",)
    text = town.other_student.messages.get().invitation
    assert "student@town" not in text.replace("other.student@town", "")
    assert "left-handed" not in text
    assert "ORGANIZER;CN=Flame:" in text


def test_where_the_pages_are_reached_is_known_the_entry_and_the_mail_lead_there(
    town: Town, settings: Settings
) -> None:
    settings.PUBLIC_ADDRESS = "https://book.example"

    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)

    page = f"https://book.example/sessions/{session.uid}"
    taught = Message.objects.get(person=session.instructor, method="REQUEST")
    sat = Message.objects.get(person=town.student, method="REQUEST")
    assert f"\r\nURL:{page}\r\n" in taught.invitation.replace("\r\n ", "")
    assert taught.body.endswith(f"\n\n{page}")
    assert "\r\nURL:https://book.example/my-seats\r\n" in sat.invitation
    assert sat.body.endswith("\n\nhttps://book.example/my-seats")


def test_where_nobody_has_said_it_they_carry_no_link(town: Town) -> None:
    book(town, "beads", local(1, 18))

    told = Message.objects.get(method="REQUEST")
    assert "URL" not in told.invitation
    assert "://" not in told.body


def test_a_class_that_moves_takes_everybodys_calendar_along(town: Town) -> None:
    assisted(town, "beads", 1)
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)

    move_session(actor=town.manager, session=session, starts_at=local(2, 10))

    assert lines(town.instructor) == lines(town.other_instructor) == request(session, 1)
    assert lines(town.student) == request(seat, 2)
    (told,) = last_told(town.student)
    assert (told.starts_at, told.ends_at) == (local(2, 10), local(2, 13))


def test_a_class_given_to_somebody_else_leaves_one_calendar_for_another(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)

    move_session(
        actor=town.manager, session=session, starts_at=local(1, 18), instructor=town.other_instructor
    )

    assert lines(town.instructor) == cancel(session, 1)
    assert lines(town.other_instructor) == request(session, 1)
    assert lines(town.student) == request(seat, 1)
    assert last_told(town.instructor)[0].status == "CANCELLED"


def test_whoever_need_not_assist_any_more_has_the_hours_back(town: Town) -> None:
    assisted(town, "blowing", 1)
    session = book(town, "blowing", local(1, 18))
    assisted(town, "blowing", 0)

    move_session(actor=town.instructor, session=session, starts_at=local(1, 18))

    assert lines(town.other_instructor) == cancel(session, 1)
    assert lines(town.instructor) == request(session, 1)


def test_who_sat_in_a_class_and_teaches_it_now_is_mailed_what_goes_and_what_comes(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    town.other_instructor.memberships.create(studio=town.flame, role="student")
    seat = reserve_class_seat(actor=town.other_instructor, session=session)

    move_session(
        actor=town.manager, session=session, starts_at=local(2, 18), instructor=town.other_instructor
    )

    _reserved, goes, comes = town.other_instructor.messages.order_by("pk")
    assert [(told.method, told.uid) for told in told_by(goes)] == [("CANCEL", str(seat.uid))]
    assert [(told.method, told.uid) for told in told_by(comes)] == [("REQUEST", str(session.uid))]


def test_a_class_that_is_called_off_leaves_every_calendar_also_of_who_calls_it_off(town: Town) -> None:
    assisted(town, "beads", 1)
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    keep_seat(actor=town.other_student, session=session)

    cancel_session(actor=town.instructor, session=session)

    assert lines(town.instructor) == lines(town.other_instructor) == cancel(session, 1)
    assert lines(town.student) == cancel(seat, 2)
    assert {told.status for told in last_told(town.student)} == {"CANCELLED"}
    assert town.other_student.messages.get().invitation == ""


@pytest.mark.parametrize("who", ["student", "manager"])
def test_a_seat_that_is_given_back_leaves_the_calendar_whoever_gives_it_back(town: Town, who: str) -> None:
    session = book(town, "beads", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    assert lines(town.student) == request(seat, 0)

    cancel_seat(actor=town.people[who], seat=seat)

    assert lines(town.student) == cancel(seat, 1)


def test_a_torch_in_bench_time_comes_and_goes(town: Town) -> None:
    torch, begin = town.torches[6], local(1, 14)
    seat = reserve_bench_torch(
        actor=town.student, torch=torch, starts_at=begin, ends_at=begin + dt.timedelta(hours=2)
    )
    assert lines(town.student) == request(seat, 0)

    cancel_seat(actor=town.student, seat=seat)

    assert lines(town.student) == cancel(seat, 1)
    assert [told.starts_at for told in last_told(town.student)] == [begin]


def test_what_is_only_kept_stands_in_no_calendar(town: Town) -> None:
    session = book(town, "beads", local(1, 18))

    let_go(actor=town.student, seat=keep_seat(actor=town.student, session=session))
    assert not town.student.messages.exists()

    cancel_seat(actor=town.manager, seat=keep_seat(actor=town.student, session=session))
    assert town.student.messages.get().invitation == ""


def test_a_kept_seat_that_moved_before_it_was_booked_comes_as_the_feed_counts_it(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    kept = keep_seat(actor=town.student, session=session)
    seen = Seat.objects.select_related("session__instructor").get(pk=kept.pk)
    move_session(
        actor=town.manager, session=session, starts_at=local(2, 18), instructor=town.other_instructor
    )
    assert town.student.messages.get().invitation == ""

    seat = book_kept(actor=town.student, seat=seen)

    assert lines(town.student) == request(seat, 2)
    assert "Taught by Other_Instructor." in town.student.messages.latest("pk").invitation


def test_whoever_acts_on_what_they_saw_before_a_move_tells_what_holds_since(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    reserve_class_seat(actor=town.student, session=session)
    keep_seat(actor=town.other_student, session=session)
    seen = Session.objects.select_related("course", "studio").get(pk=session.pk)
    seats = Seat.objects.select_related("session__course", "studio", "person").order_by("pk")
    booked, kept = seats.get(person=town.student), seats.get(person=town.other_student)
    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    book_kept(actor=town.other_student, seat=kept)
    cancel_seat(actor=town.student, seat=booked)
    cancel_session(actor=town.instructor, session=seen)

    comes, _called_off = town.other_student.messages.exclude(invitation="").order_by("pk")
    assert [told.sequence for told in told_by(comes)] == [2]
    assert lines(town.student) == cancel(booked, 3)
    assert lines(town.instructor) == cancel(session, 2)
    assert [told.starts_at for told in last_told(town.instructor)] == [local(2, 18)]


def test_an_offer_stands_in_no_calendar_until_it_is_taken(town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        session = full_class(town)
        join_line(actor=town.student, session=session)
        cancel_seat(actor=town.manager, seat=session.seat_rows.get(number=3))
        assert set(town.student.messages.values_list("invitation", flat=True)) == {""}

        place = take_offer(actor=town.student, place=WaitingPlace.objects.get(person=town.student))

    assert place.seat is not None
    assert lines(town.student) == request(place.seat, 0)


def test_a_seat_that_is_lost_by_a_move_leaves_the_calendar(town: Town) -> None:
    session = book(town, "boro", local(1, 18))
    seat = reserve_class_seat(actor=town.student, session=session)
    reserve_bench_torch(
        actor=town.student, torch=town.torches[6], starts_at=local(2, 19), ends_at=local(2, 20)
    )

    move_session(actor=town.instructor, session=session, starts_at=local(2, 18))

    assert lines(town.student) == cancel(seat, 2)


def test_the_repair_after_an_outage_tells_those_whom_it_gives_another_torch(town: Town) -> None:
    session = book(town, "beads", local(1, 18))
    first = reserve_class_seat(actor=town.student, session=session)
    reserve_class_seat(actor=town.other_student, session=session)
    enter_outage(
        actor=town.technician,
        equipment=town.torches[0],
        starts_at=local(1, 8),
        ends_at=local(1, 23),
        reason="leak",
    )

    move_session(actor=town.instructor, session=session, starts_at=local(1, 18))

    assert lines(town.student) == request(first, 2)
    first.refresh_from_db()
    assert first.torch != town.torches[0]
    assert (
        f"SUMMARY:beads\\, {first.torch}\r\n"
        in town.student.messages.get(subject="Changed: beads").invitation
    )
    assert town.other_student.messages.count() == 1


def test_a_weekly_class_is_one_event_that_comes_back(town: Town) -> None:
    series = weekly(town)

    (told,) = last_told(town.instructor)

    assert (told.method, told.uid, told.sequence) == ("REQUEST", str(series.uid), 0)
    assert told.weekly
    assert (told.starts_at, told.ends_at) == (local(1, 18), local(1, 21))


def test_one_meeting_of_a_weekly_class_is_told_of_by_its_planned_start(town: Town) -> None:
    series = weekly(town)
    second, third, fourth = series.sessions.order_by("starts_at")[1:4]
    uid = str(series.uid)

    move_session(actor=town.instructor, session=second, starts_at=local(9, 10))
    assert lines(town.instructor) == [("REQUEST", uid, 1, local(8, 18))]
    assert last_told(town.instructor)[0].starts_at == local(9, 10)

    cancel_session(actor=town.manager, session=third)
    assert lines(town.instructor) == [("CANCEL", uid, 2, local(15, 18))]

    move_session(
        actor=town.manager, session=fourth, starts_at=local(22, 18), instructor=town.other_instructor
    )
    assert lines(town.instructor) == [("CANCEL", uid, 3, local(22, 18))]
    assert lines(town.other_instructor) == [("REQUEST", uid, 3, local(22, 18))]


def test_a_weekly_class_that_has_not_begun_is_called_off_as_a_whole(town: Town) -> None:
    series = weekly(town)

    cancel_series(actor=town.instructor, series=series)

    assert lines(town.instructor) == [("CANCEL", str(series.uid), 6, None)]


def test_of_a_weekly_class_that_has_begun_the_meetings_to_come_are_called_off(town: Town) -> None:
    series = weekly(town)
    planned = [local(1 + 7 * week, 18) for week in range(1, 6)]
    with time_machine.travel(local(2, 9), tick=False):
        cancel_series(actor=town.instructor, series=series)

    assert lines(town.instructor) == [("CANCEL", str(series.uid), 5, start) for start in planned]


def test_who_sat_in_several_meetings_is_mailed_once_of_all_of_them(town: Town) -> None:
    series = weekly(town)
    seated(series, town.student, 1, 2)

    cancel_series(actor=town.instructor, series=series)

    seats = Seat.objects.filter(person=town.student).order_by("starts_at")
    assert lines(town.student) == [line for seat in seats for line in cancel(seat, 2)]
    assert town.student.messages.filter(subject="Called off: blowing").count() == 1


def test_reminders_and_firings_carry_nothing(town: Town) -> None:
    session = book(town, "beads", local(4, 18))
    reserve_class_seat(actor=town.student, session=session)
    Message.objects.all().delete()

    with time_machine.travel(local(3, 20), tick=False):
        assert remind() == 2

    assert set(Message.objects.values_list("method", "invitation")) == {("", "")}


def test_a_booking_that_fails_mails_nothing(town: Town, monkeypatch: pytest.MonkeyPatch) -> None:
    session = book(town, "beads", local(1, 18))

    def fail() -> None:
        raise PersonBusy(who="", what="", start="", end="", way="")

    # Asking for delivery is the last thing that is done, after all is written.
    monkeypatch.setattr(seating, "ring_after_commit", fail)
    with pytest.raises(PersonBusy):
        reserve_class_seat(actor=town.student, session=session)

    assert not town.student.messages.exists()


def test_the_invitation_to_a_reserved_seat_asks_nothing_of_the_database(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    session = book(town, "beads", local(1, 18))
    asked: list[int] = []
    of_seat = invitations.of_seat

    def count(seat: Seat) -> invitations.Invited:
        with CaptureQueriesContext(connection) as queries:
            invited = of_seat(seat)
        asked.append(len(queries))
        return invited

    as_shown = Session.objects.select_related("course", "studio", "instructor").get(pk=session.pk)
    monkeypatch.setattr(invitations, "of_seat", count)
    reserve_class_seat(actor=town.student, session=as_shown)

    assert asked == [0]
