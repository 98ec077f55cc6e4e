"""The waiting line and what is paid, on the pages."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator
from decimal import Decimal

import pytest
import time_machine

from scheduling.models import Seat, Session
from scheduling.services.in_line import join_line
from scheduling.services.payments import mark_paid
from scheduling.services.seats import cancel_seat, reserve_class_seat
from studios.models import Person, SafetyText
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Visit
from tests.services.test_booking import book
from tests.services.test_line import NINE, full_class, give_back, line_of
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    """Monday at nine, until it is moved."""
    with time_machine.travel(NINE, tick=False) as moved:
        yield moved


def priced_class(town: Town) -> Session:
    town.courses["beads"].price = Decimal(40)
    town.courses["beads"].save()
    session = book(town, "beads", local(4, 18))
    reserve_class_seat(actor=town.student, session=session, note="=left-handed, and my own goggles")
    return session


def test_a_full_class_is_found_among_my_seats_until_one_waits_for_it(town: Town, visit: Visits) -> None:
    full = a_class(town, "boro")
    a_seat(full, town.other_student)
    visitor = visit(town.student)

    before = visitor.get("/my-seats")
    visitor.post(f"/sessions/{full.uid}/line")
    after = visitor.get("/my-seats")
    to_another = visit(town.technician).get("/my-seats")

    assert "Full classes, each with a waiting line" in before.words
    assert "boro Instructor; nobody waits yet" in before.words
    assert "Full classes, each with a waiting line" not in after.words
    assert "you are number 1 in the line" in after.words
    assert "boro Instructor; 1 waits" in to_another.words


def test_a_student_joins_the_line_sees_the_place_and_leaves(town: Town, visit: Visits) -> None:
    session = full_class(town)
    join_line(actor=town.other_student, session=session)
    visitor = visit(town.student)
    before = visitor.get(f"/sessions/{session.uid}")

    after = visitor.post(f"/sessions/{session.uid}/line")
    mine = visitor.get("/my-seats")
    gone = visitor.post(f"/waiting-places/{session.line.get(person=town.student).uid}/leave")

    assert "1 person waits already." in before.words
    assert "You are number 2 in the waiting line." in after.words
    assert "you are number 2 in the line" in mine.words
    assert "You wait for beads no longer." in gone.words
    assert line_of(session) == [("Other_Student", "waiting"), ("Student", "left")]


def test_what_is_offered_stands_among_my_seats_with_its_deadline(town: Town, visit: Visits) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)
    give_back(session)
    visitor = visit(town.student)

    page = visitor.get("/my-seats")
    visitor.post(f"/my-seats/{town.student.seats.get().uid}/reserve")

    assert "offered to you until Mon 3 Mar, 21:00" in page.words
    assert line_of(session) == [("Student", "taken")]
    assert town.student.seats.get().status == "booked"


def test_there_is_no_line_to_join_where_a_seat_is_free(town: Town, visit: Visits) -> None:
    session = book(town, "beads", local(4, 18))
    visitor = visit(town.student)

    page = visitor.get(f"/sessions/{session.uid}")
    refused = visitor.post(f"/sessions/{session.uid}/line")

    assert "Waiting line" not in page.words
    assert "a seat is free, and can be reserved" in refused.words


def test_a_class_below_its_least_number_says_so_until_it_fills_up(
    town: Town, visit: Visits, clock: time_machine.Traveller
) -> None:
    town.courses["beads"].min_seats = 2
    town.courses["beads"].save()
    session = priced_class(town)
    visitor, said = visit(town.student), "Below its least number"
    assert said not in visitor.get(f"/sessions/{session.uid}").words

    clock.move_to(local(2, 9))
    assert f"{said}: 1 of at least 2 seats booked." in visitor.get(f"/sessions/{session.uid}").words
    assert f"{said}: beads, Fri 7 Mar, 18:00" in visitor.get("/", week="2031-W10").words
    assert f"{said}." in visit(town.instructor).get(f"/sessions/{session.uid}/roster").words
    reserve_class_seat(actor=town.other_student, session=session)

    assert said not in visitor.get(f"/sessions/{session.uid}").words
    assert said not in visitor.get("/", week="2031-W10").words


def test_the_roster_says_who_comes_and_who_waits(town: Town, visit: Visits) -> None:
    SafetyText.objects.create(studio=town.flame, version=1, body="Hot.", since=local(0, 10))
    session = full_class(town)
    join_line(actor=town.student, session=session)

    with time_machine.travel(local(0, 11), tick=False):
        page = visit(town.instructor).get(f"/sessions/{session.uid}/roster")

    assert "Student 0 1 1 s0@town.example – not yet read free" in page.words
    assert "Student 1 student@town.example not yet" in page.words


def test_a_technician_reads_names_and_no_addresses(town: Town, visit: Visits) -> None:
    session = full_class(town)
    join_line(actor=town.student, session=session)

    page = visit(town.technician).get(f"/sessions/{session.uid}/roster")

    assert "Student 4" in page.words
    assert "@town.example" not in page.words


def test_a_student_reads_no_roster(town: Town, visit: Visits) -> None:
    session = full_class(town)
    visitor = visit(town.student)

    for address in ("roster", "roster.csv"):
        visitor.get(f"/sessions/{session.uid}/{address}")
        assert visitor.status == 404


def test_the_roster_as_a_file_is_a_table_that_no_cell_can_break(town: Town, visit: Visits) -> None:
    session = priced_class(town)
    town.student.name = 'Léa "Bead", of Kiln\nStreet'
    town.student.save()
    Session.objects.filter(pk=session.pk).update(seats=1)
    join_line(actor=town.other_student, session=session)

    response = visit(town.instructor).client.get(f"/sessions/{session.uid}/roster.csv")

    text = b"".join(response.streaming_content).decode("utf-8")  # type: ignore[attr-defined]
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert 'filename="roster-beads-2031-03-07.csv"' in response["Content-Disposition"]
    assert text.startswith("place,torch,name,email,note,price,paid,safety text\r\n")
    assert list(csv.reader(io.StringIO(text, newline="")))[1:] == [
        [
            "seat 1",
            "1",
            'Léa "Bead", of Kiln\nStreet',
            "student@town.example",
            "'=left-handed, and my own goggles",
            "40.00",
            "not paid",
            "",
        ],
        ["waiting 1", "", "Other_Student", "other.student@town.example", "", "", "", ""],
    ]


def test_a_seat_is_marked_as_paid_on_the_roster_and_not_after_all(town: Town, visit: Visits) -> None:
    session = priced_class(town)
    seat = session.seat_rows.get()
    visitor = visit(town.instructor)
    assert "40.00, not paid" in visitor.get(f"/sessions/{session.uid}/roster").words

    page = visitor.post(f"/seats/{seat.uid}/paid", back=str(session.uid))
    again = visitor.post(f"/seats/{seat.uid}/paid", back=str(session.uid))
    undone = visitor.post(f"/seats/{seat.uid}/not-paid", back=str(session.uid))

    assert "40.00, paid Mon 3 Mar, 09:00, noted by Instructor" in page.words
    assert "is marked as paid already" in again.words
    assert "40.00, not paid" in undone.words


def test_the_manager_sees_what_was_given_back_after_it_was_paid(town: Town, visit: Visits) -> None:
    seat = mark_paid(actor=town.instructor, seat=priced_class(town).seat_rows.get())
    visitor = visit(town.manager)
    assert "Nothing that was paid has been given back." in visitor.get("/payments").words

    cancel_seat(actor=town.student, seat=seat)
    page = visitor.get("/payments")
    after = visitor.post(f"/seats/{seat.uid}/not-paid", back="")

    assert "Student beads Flame Fri 7 Mar, 18:00 2031 40.00, paid" in page.words
    assert "Nothing that was paid has been given back." in after.words
    assert Seat.objects.get().paid_at is None


def test_payments_are_for_those_who_mark_them(town: Town, visit: Visits) -> None:
    for person, status in ((town.student, 403), (town.technician, 403), (town.instructor, 200)):
        visitor = visit(person)
        page = visitor.get("/payments")

        assert visitor.status == status
        assert bool(page.all("a", href="/payments")) == (status == 200)


def test_an_offer_that_has_lapsed_is_in_nobodys_way(
    town: Town, visit: Visits, clock: time_machine.Traveller
) -> None:
    """No round has come by yet."""
    session = full_class(town)
    join_line(actor=town.other_student, session=session)
    join_line(actor=town.student, session=session)
    give_back(session)

    clock.move_to(local(0, 21))

    assert (
        "You are number 1 in the waiting line." in visit(town.student).get(f"/sessions/{session.uid}").words
    )
    assert "Other_Student" not in visit(town.instructor).get(f"/sessions/{session.uid}/roster").words
