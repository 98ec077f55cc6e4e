"""A session's page: what it holds, its seats, calling it off."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import BookingStatus, Occupancy, Seat, Series
from scheduling.services.series import book_series
from studios.models import Person
from tests.faces.web.bookings import WEEK, a_class, a_seat, a_torch
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_it_says_when_by_the_studios_clock_and_what_it_holds(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")

    page = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Tuesday 4 March 2031, 18:00 to 21:00 America/Chicago" in page.words
    # Five torches alike are one line.
    assert "torch 1, torch 2, torch 3, torch 4, torch 5 Tue 4 Mar, 17:55–21:05" in page.words
    assert "purge 17:55–18:00" in page.words


def test_a_student_takes_a_seat_with_a_torch_and_gives_it_back(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    visitor = visit(town.student)

    taken = visitor.post(f"/sessions/{session.uid}/seat", torch=town.torches[3].uid)
    seat = Seat.objects.get()
    mine = visitor.get("/my-seats")
    visitor.post(f"/my-seats/{seat.uid}/give-back")

    assert "You have seat 1, torch 4." in taken.words
    assert "torch 4" in mine.words
    seat.refresh_from_db()
    assert seat.status == BookingStatus.CANCELLED


def test_a_torch_taken_meanwhile_is_refused_beside_the_field(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.other_student)
    visitor = visit(town.student)

    page = visitor.post(f"/sessions/{session.uid}/seat", torch=town.torches[0].uid)

    assert visitor.status == 409
    assert page.all("div", class_="error", id="id_torch_error")
    assert Seat.objects.count() == 1


def test_the_last_seat_is_gone_for_the_next_one(town: Town, visit: Visits) -> None:
    session = a_class(town, "boro")
    a_seat(session, town.other_student)
    visitor = visit(town.student)

    page = visitor.post(f"/sessions/{session.uid}/seat")

    assert "0 of 1 free" in page.words
    assert visitor.status == 409


def test_staff_see_who_comes_and_students_do_not(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.other_student)

    to_staff = visit(town.technician).get(f"/sessions/{session.uid}")
    to_student = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Other_Student" in to_staff.words
    assert "Other_Student" not in to_student.words
    assert "5 of 6 free" in to_student.words


def test_an_instructor_seats_a_student_and_a_student_nobody_else(town: Town, visit: Visits) -> None:
    session = a_class(town)

    page = visit(town.instructor).post(f"/sessions/{session.uid}/seat", person=town.student.uid)
    visit(town.other_student).post(f"/sessions/{session.uid}/seat", person=town.manager.uid)

    assert "is taken for Student" in page.words
    # The student's choice of a person is not on the form, so the seat is the student's own.
    assert {seat.person for seat in Seat.objects.all()} == {town.student, town.other_student}


def test_who_teaches_a_class_is_not_offered_a_seat_in_it(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/seat")

    assert page.all("div", class_="error", id="id_person_error")
    assert "Choose a person." in page.words
    assert not Seat.objects.exists()


def test_calling_it_off_frees_everything_and_keeps_the_page(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    page = visitor.post(f"/sessions/{session.uid}/call-off")

    assert "blowing is called off; what it held is free again." in page.words
    assert not Occupancy.objects.exists()
    assert "It holds nothing any more." in page.words


@pytest.mark.parametrize("who", ["student", "other_instructor", "technician"])
def test_others_cannot_call_it_off(town: Town, visit: Visits, who: str) -> None:
    session = a_class(town)
    visitor = visit(getattr(town, who))

    page = visitor.get(f"/sessions/{session.uid}")
    visitor.post(f"/sessions/{session.uid}/call-off")

    session.refresh_from_db()
    assert session.status == BookingStatus.BOOKED
    assert not page.all("form", action=f"/sessions/{session.uid}/call-off")


def test_what_has_begun_is_closed(town: Town, visit: Visits) -> None:
    session = a_class(town)

    with time_machine.travel(local(1, 19), tick=False):
        page = visit(town.student).get(f"/sessions/{session.uid}")
    with time_machine.travel(local(2, 9), tick=False):
        later = visit(town.student).get(f"/sessions/{session.uid}")

    assert "Take a seat" not in page.words
    assert "This class has begun" in page.words
    assert page.all("a", href="/my-seats#open")
    assert "This class is over." in later.words


def test_a_stranger_finds_no_session_and_takes_no_seat(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.stranger)

    for act in (
        lambda: visitor.get(f"/sessions/{session.uid}"),
        lambda: visitor.post(f"/sessions/{session.uid}/seat"),
        lambda: visitor.post(f"/sessions/{session.uid}/call-off"),
    ):
        page = act()
        assert visitor.status == 404
        assert "Nothing stands at this address" in page.words


def test_somebody_elses_seat_is_not_given_back(town: Town, visit: Visits) -> None:
    seat = a_seat(a_class(town), town.student)

    visit(town.other_student).post(f"/my-seats/{seat.uid}/give-back")

    seat.refresh_from_db()
    assert seat.status == BookingStatus.BOOKED


def test_my_seats_list_what_is_open_and_what_one_teaches(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.student)

    teaching = visit(town.instructor).get("/my-seats")
    open_to_others = visit(town.other_student).get("/my-seats")
    to_seated = visit(town.student).get("/my-seats")

    assert "1 of 6 seats taken" in teaching.words
    assert "5 of 6 free" in open_to_others.words
    assert "No class has a free seat just now." in to_seated.words


def test_a_full_class_says_so_and_shows_the_way_to_others(town: Town, visit: Visits) -> None:
    session = a_class(town, "boro")
    a_seat(session, town.other_student)

    to_student = visit(town.student).get(f"/sessions/{session.uid}")
    to_seated = visit(town.other_student).get(f"/sessions/{session.uid}")
    to_instructor = visit(town.instructor).get(f"/sessions/{session.uid}")

    assert "This class is full. Other classes with a free seat" in to_student.words
    assert to_student.all("a", href="/my-seats#open")
    assert "This class is full." not in to_seated.words + to_instructor.words
    assert visit(town.student).get("/my-seats").all("h2", id="open")


def test_a_student_reads_when_the_pieces_can_be_collected(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.student)
    firing = session.loads.get().firing
    emptied = firing.occupancy.ends_at.astimezone(town.hot_shop.zone)
    visitor = visit(town.student)

    assert emptied > firing.unload_at
    collected_from = f"to be collected from Wed 5 Mar, {emptied:%H:%M}"
    assert collected_from in visitor.get(f"/sessions/{session.uid}").words
    assert collected_from in visitor.get("/my-seats").words


def test_pieces_are_awaited_after_the_class_until_they_are_out(town: Town, visit: Visits) -> None:
    session = a_class(town)
    a_seat(session, town.student)
    emptied = session.loads.get().firing.occupancy.ends_at

    with time_machine.travel(local(1, 22), tick=False):
        waiting = visit(town.student).get("/my-seats")
    with time_machine.travel(emptied, tick=False):
        out = visit(town.student).get("/my-seats")

    assert "Pieces still in the kiln from Wed 5 Mar" in waiting.words
    assert "Past seats" not in waiting.words
    assert "pieces out since Wed 5 Mar" in out.words
    assert "You have no seat yet." in out.words
    assert "in your calendar" not in out.words


def test_bench_time_leaves_nothing_to_collect(town: Town, visit: Visits) -> None:
    a_torch(town, 3, town.student)

    with time_machine.travel(local(2, 15), tick=False):
        page = visit(town.student).get("/my-seats")

    assert "Past seats Wed 5 Mar, 12:00: bench time, torch 3, Flame" in page.words


def test_classes_stand_in_order_of_date_at_each_studio(town: Town, visit: Visits) -> None:
    friday, tuesday = a_class(town, starts_at=local(4, 18)), a_class(town)
    beads = a_class(town, "beads", local(3, 18))

    for person in (town.student, town.instructor):
        links = [link.get("href", "") for link in visit(person).get("/my-seats").all("a")]
        shown = [link for link in links if link.startswith("/sessions/")]
        assert shown.index(f"/sessions/{tuesday.uid}") < shown.index(f"/sessions/{friday.uid}")
        assert f"/sessions/{beads.uid}" in shown


def test_a_list_that_is_cut_says_so_and_leaves_no_studio_out(
    town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduling.web.views.seats.OPEN_SHOWN", 1)
    a_class(town, starts_at=local(4, 18))
    a_class(town)
    a_class(town, "beads", local(3, 18))

    page = visit(town.student).get("/my-seats")

    assert "Hot shop the next one March 2031 1 Tue 4 Mar, 18:00–21:00 blowing" in page.words
    assert "Flame March 2031 1 Thu 6 Mar, 18:00–21:00 beads" in page.words
    assert "Fri 7 Mar" not in page.words


def test_the_one_who_teaches_is_not_among_those_a_seat_is_for(town: Town, visit: Visits) -> None:
    session = a_class(town)

    page = visit(town.manager).get(f"/sessions/{session.uid}")

    offered = {option["value"] for option in page.all("option")}
    assert str(town.student.uid) in offered
    assert str(town.instructor.uid) not in offered


def test_alike_phases_that_follow_one_another_are_read_as_one(town: Town, visit: Visits) -> None:
    """Set-up, class and clean-up are three stretches of work at the saw, and one to whoever reads it."""
    town.courses["tiles"].setup_min = town.courses["tiles"].cleanup_min = 15
    town.courses["tiles"].save()
    session = a_class(town, "tiles", local(1, 12))

    page = visit(town.student).get(f"/sessions/{session.uid}")

    assert Occupancy.objects.get(equipment=town.equipment["saw"]).phases.count() > 1
    assert "saw Tue 4 Mar, 11:45–14:15 working 11:45–14:15" in page.words


def test_my_seats_name_the_clocks_once(town: Town, visit: Visits) -> None:
    a_seat(a_class(town), town.student)
    a_class(town, "beads", local(3, 18))

    assert visit(town.student).get("/my-seats").words.count("by the clocks of America/Chicago") == 1


def a_weekly_class(town: Town) -> Series:
    days = [dt.date(2031, 3, day) for day in (4, 11, 18)]
    course = town.courses["blowing"]
    return book_series(
        actor=town.instructor,
        course=course,
        studio=town.hot_shop,
        instructor=town.instructor,
        days=days,
        time=dt.time(18),
    )


def test_a_weekly_class_is_called_off_from_any_of_its_meetings(town: Town, visit: Visits) -> None:
    series = a_weekly_class(town)
    uid = series.sessions.order_by("starts_at")[1].uid
    visitor = visit(town.instructor)

    asked = visitor.get(f"/sessions/{uid}")
    page = visitor.post(f"/sessions/{uid}/call-off-series")

    assert "Call the whole weekly class off" in asked.words
    assert "Call all 3 off" in asked.words
    assert "blowing: 3 meetings to come called off." in page.words
    assert not series.sessions.filter(status=BookingStatus.BOOKED).exists()
    assert not page.all("form", action=f"/sessions/{uid}/call-off-series")
    again = visitor.post(f"/sessions/{uid}/call-off-series")
    assert "blowing, each week, has no meeting to come." in again.words


def test_the_rest_of_a_weekly_class_is_called_off_once_it_has_begun(town: Town, visit: Visits) -> None:
    series = a_weekly_class(town)
    first = series.sessions.earliest("starts_at")

    with time_machine.travel(local(8, 19), tick=False):
        visitor = visit(town.manager)
        asked = visitor.get(f"/sessions/{first.uid}")
        visitor.post(f"/sessions/{first.uid}/call-off-series")

    assert "Call it off" in asked.words
    assert series.sessions.filter(status=BookingStatus.BOOKED).count() == 2


@pytest.mark.parametrize("who", ["student", "other_instructor", "technician"])
def test_others_call_no_weekly_class_off(town: Town, visit: Visits, who: str) -> None:
    series = a_weekly_class(town)
    uid = series.sessions.earliest("starts_at").uid
    visitor = visit(getattr(town, who))

    page = visitor.get(f"/sessions/{uid}")
    visitor.post(f"/sessions/{uid}/call-off-series")

    assert not page.all("form", action=f"/sessions/{uid}/call-off-series")
    assert series.sessions.filter(status=BookingStatus.BOOKED).count() == 3


def test_a_single_class_is_no_weekly_class(town: Town, visit: Visits) -> None:
    session = a_class(town)
    visitor = visit(town.instructor)

    page = visitor.get(f"/sessions/{session.uid}")
    visitor.post(f"/sessions/{session.uid}/call-off-series")

    assert visitor.status == 404
    assert "weekly class" not in page.words


def test_a_session_names_who_assists_and_offers_them_no_seat(town: Town, visit: Visits) -> None:
    town.courses["blowing"].assistants = 1
    town.courses["blowing"].save()
    session = a_class(town)
    visitor = visit(town.other_instructor)

    page = visitor.get(f"/sessions/{session.uid}")
    mine = visitor.get("/my-seats")
    week = visitor.get("/", week=WEEK)

    assert "Instructor Instructor Assisting Other_Instructor" in page.words
    assert "Call this class off" not in page.words
    assert "Choose a person" in page.words
    assert "myself" not in page.words
    assert "0 of 6 seats taken; you assist Instructor" in mine.words
    assert "No class has a free seat just now." in mine.words
    assert len(week.all("path", class_="hit mine")) == 4  # furnace, glory hole, bench, warmer
