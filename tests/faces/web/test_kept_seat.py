"""The form of a kept seat: until what clock time, once longer, what is read; and who is vouched for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from decimal import Decimal

import pytest
import time_machine

from scheduling.models import Course, EarlierCourse, Seat, SeatStatus
from scheduling.services.keeping import keep_seat
from scheduling.services.seats import reserve_class_seat
from studios.models import Acknowledgement, Person, SafetyText
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Reader, Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
NINE = local(0, 9)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def a_text(town: Town) -> SafetyText:
    return SafetyText.objects.create(
        studio=town.flame, version=3, body="Tie long hair back.\n\nNo synthetic clothes.", since=local(0, 8)
    )


def test_a_seat_is_kept_until_a_clock_time_longer_once_and_reserved(town: Town, visit: Visits) -> None:
    Course.objects.filter(slug="beads").update(price=Decimal(80))
    session = a_class(town, "beads")
    visitor = visit(town.student)

    page = visitor.post(f"/sessions/{session.uid}/keep", torch=town.torches[1].uid)
    seat = Seat.objects.get()
    longer = visitor.post(f"/my-seats/{seat.uid}/keep-longer")
    again = visitor.post(f"/my-seats/{seat.uid}/keep-longer")
    done = visitor.post(f"/my-seats/{seat.uid}/reserve", torch=town.torches[3].uid, note="left-handed")

    assert "Seat 1, torch 2, in beads is kept for you until 09:10 CST." in page.words
    assert "Price 80.00" in page.words
    assert "Give it back until Mon 3 Mar, 18:00; later the studio decides" in page.words
    assert "is kept for you until 09:20 CST. It has been kept longer once." in longer.words
    assert "kept longer once already" in again.words
    assert "Seat 1, torch 4, in beads is yours; it stands among your seats." in done.words
    seat.refresh_from_db()
    assert (seat.status, seat.note) == (SeatStatus.BOOKED, "left-handed")
    assert "“left-handed”" in visit(town.instructor).get(f"/sessions/{session.uid}").words


def test_the_page_asks_for_nothing_by_script(town: Town, visit: Visits) -> None:
    seat = keep_seat(actor=town.student, session=a_class(town, "beads"))

    page = visit(town.student).get(f"/my-seats/{seat.uid}/reserve")

    forms = [form["action"] for form in page.all("form", method="post") if str(seat.uid) in form["action"]]
    assert forms == [f"/my-seats/{seat.uid}/{step}" for step in ("keep-longer", "reserve", "let-go")]
    assert not page.all("meta", http_equiv="refresh")


def test_opening_the_form_again_does_not_keep_it_longer(
    town: Town, visit: Visits, clock: time_machine.Traveller
) -> None:
    session = a_class(town, "beads")
    visitor = visit(town.student)
    visitor.post(f"/sessions/{session.uid}/keep")
    clock.move_to(NINE + dt.timedelta(minutes=6))

    page = visitor.post(f"/sessions/{session.uid}/keep")

    assert "until 09:10 CST" in page.words
    assert "is kept for you until 09:10 CST" in visitor.get(f"/sessions/{session.uid}").words
    assert "Kept for you" in visitor.get("/my-seats").words


def test_past_its_time_the_form_says_so_and_leads_back(
    town: Town, visit: Visits, clock: time_machine.Traveller
) -> None:
    session = a_class(town, "beads")
    seat = keep_seat(actor=town.student, session=session)
    visitor = visit(town.student)
    clock.move_to(NINE + dt.timedelta(minutes=10))

    late = visitor.post(f"/my-seats/{seat.uid}/reserve", note="too late")

    assert visitor.status == 409
    assert "was kept until Mon 3 Mar 2031, 09:10 CST and is no longer" in late.words
    assert late.all("a", href=f"/sessions/{session.uid}")
    assert "5 of 5 free" in visitor.get(f"/sessions/{session.uid}").words


def test_going_back_and_taking_another_torch_of_the_class_changes_to_it(town: Town, visit: Visits) -> None:
    session = a_class(town, "beads")
    visitor = visit(town.student)
    first, other = town.torches[0], town.torches[2]

    visitor.post(f"/sessions/{session.uid}/keep", torch=first.uid)
    visitor.post(f"/sessions/{session.uid}/keep", torch=first.uid)
    page = visitor.post(f"/sessions/{session.uid}/keep", torch=other.uid)

    assert not visitor.get(f"/sessions/{session.uid}").all("form", action=f"/sessions/{session.uid}/keep")
    assert "torch 3, in beads is kept for you until" in page.words
    assert Seat.objects.get().torch == other


def test_a_seat_let_go_is_free_at_once(town: Town, visit: Visits) -> None:
    session = a_class(town, "boro")
    visitor = visit(town.student)
    visitor.post(f"/sessions/{session.uid}/keep")

    page = visitor.post(f"/my-seats/{Seat.objects.get().uid}/let-go")

    assert "is free for somebody else." in page.words
    assert "1 of 1 free" in page.words


def test_kept_too_often_it_is_reserved_at_once_with_the_text(town: Town, visit: Visits) -> None:
    a_text(town)
    session = a_class(town, "beads")
    visitor = visit(town.student)
    for _ in range(3):
        visitor.post(f"/sessions/{session.uid}/keep")
        visitor.post(f"/my-seats/{Seat.objects.latest('pk').uid}/let-go")

    page = visitor.post(f"/sessions/{session.uid}/keep")
    done = visitor.post(f"/sessions/{session.uid}/seat", acknowledged="3")

    assert "booked at once or not at all" in page.words
    assert page.all("form", action=f"/sessions/{session.uid}/seat")
    assert page.all("input", name="acknowledged", value="3")
    assert "You have seat 1" in done.words


def test_the_safety_text_is_read_on_the_form_once_a_term(town: Town, visit: Visits) -> None:
    a_text(town)
    first = keep_seat(actor=town.student, session=a_class(town, "beads"))
    visitor = visit(town.student)

    page = visitor.get(f"/my-seats/{first.uid}/reserve")
    without = visitor.post(f"/my-seats/{first.uid}/reserve")
    status = visitor.status
    visitor.post(f"/my-seats/{first.uid}/reserve", acknowledged="3")
    second = keep_seat(actor=town.student, session=a_class(town, "beads", local(3, 18)))
    later = visitor.get(f"/my-seats/{second.uid}/reserve")

    assert "Tie long hair back." in page.words
    assert page.all("input", type="checkbox", name="acknowledged", value="3")
    assert "Read the safety text of Flame, version 3" in without.words
    assert status == 409
    assert not later.all("input", name="acknowledged")
    assert Acknowledgement.objects.get().person == town.student


def test_who_was_seated_by_the_staff_reads_it_on_the_own_page(town: Town, visit: Visits) -> None:
    a_text(town)
    session = a_class(town, "beads")
    reserve_class_seat(actor=town.instructor, session=session, person=town.student)
    visitor, roster = visit(town.student), f"/sessions/{session.uid}"
    before = visit(town.instructor).get(roster)

    asked = visitor.get("/my-seats")
    unticked = visitor.post("/safety", studio="flame", day="2031-03-04")
    page = visitor.post("/safety", studio="flame", day="2031-03-04", acknowledged="3")

    assert "safety text not yet read" in before.words
    assert asked.all("input", name="day", value="2031-03-04")
    assert "Tick that you have read" in unticked.words
    assert "You have read the safety text of Flame." in page.words
    assert not page.all("input", name="acknowledged")
    assert "safety text not yet read" not in visit(town.instructor).get(roster).words


@pytest.mark.parametrize("day", ["", "2031-02-30", "soon"])
def test_a_day_that_is_none_is_not_found(town: Town, visit: Visits, day: str) -> None:
    visitor = visit(town.student)

    visitor.post("/safety", studio="flame", day=day, acknowledged="3")

    assert visitor.status == 404


def test_after_the_deadline_the_pages_say_that_the_studio_gives_it_back(
    town: Town, visit: Visits, clock: time_machine.Traveller
) -> None:
    seat = a_seat(a_class(town, "beads"), town.student)
    before = visit(town.student).get("/my-seats")
    clock.move_to(local(0, 18, 1))

    after = visit(town.student).get("/my-seats")
    refused = visit(town.student).post(f"/my-seats/{seat.uid}/give-back")

    assert "given back until Mon 3 Mar, 18:00" in before.words
    assert "the studio alone gives it back since Mon 3 Mar, 18:00" in after.words
    assert not after.all("form", action=f"/my-seats/{seat.uid}/give-back")
    assert "ask an instructor or the manager" in refused.words


def test_a_course_that_builds_on_another_says_so_before_anybody_tries(town: Town, visit: Visits) -> None:
    town.courses["boro"].requires.add(town.courses["beads"])
    session = a_class(town, "boro")

    page = visit(town.student).get(f"/sessions/{session.uid}")

    assert "This class builds on beads, which you have not taken before it begins." in page.words
    assert not page.all("form", action=f"/sessions/{session.uid}/keep")


def test_an_instructor_vouches_on_the_people_page_and_takes_it_back(town: Town, visit: Visits) -> None:
    town.courses["boro"].requires.add(town.courses["beads"])
    visitor = visit(town.instructor)

    empty = visitor.get("/people?studio=flame")
    page = visitor.post("/people/flame/earlier-courses", person=town.student.uid, course="beads")
    row = EarlierCourse.objects.get()
    after = visitor.post(f"/earlier-courses/{row.pk}/take-back")

    assert "Vouch for it" in empty.words
    assert not empty.all("div", aria_label="People at Flame")
    assert "Student has taken beads before." in page.words
    assert "Student: beads says Instructor" in page.words
    assert "beads no longer counts as taken by Student." in after.words
    assert not EarlierCourse.objects.exists()


def test_what_cannot_be_vouched_for_is_said_beside_the_field(town: Town, visit: Visits) -> None:
    town.courses["boro"].requires.add(town.courses["beads"])
    visitor = visit(town.manager)

    page: Reader = visitor.post("/people/flame/earlier-courses", person=town.student.uid, course="tiles")

    assert visitor.status == 400
    assert page.all("div", class_="error", id="id_vouch_flame_course_error")
