"""Many at once at one waiting line: no seat is offered twice, nobody is passed, everybody is told once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import Message, Seat, Session, WaitingPlace
from scheduling.services.decisions import flag_sessions
from scheduling.services.in_line import join_line
from scheduling.services.line_going_on import go_on
from scheduling.services.reminders import remind
from scheduling.services.seats import cancel_seat, reserve_class_seat
from studios.models import Person
from tests.scenarios.test_races import at_once, crowd
from tests.services.test_booking import book
from tests.services.test_line import NINE
from tests.worlds import Town, build_town, local

pytestmark = pytest.mark.django_db(transaction=True)
THREADS = 8


@pytest.fixture
def town(transactional_db: None) -> Town:
    """The test town in committed rows, so that every thread sees it."""
    return build_town()


def full_with_line(town: Town, waiting: int) -> tuple[Session, list[Person]]:
    """Five sit in a class; so many wait, in this order."""
    session = book(town, "beads", local(4, 18))
    people = crowd(town, 5 + waiting)
    for person in people[:5]:
        reserve_class_seat(actor=person, session=session)
    for person in people[5:]:
        join_line(actor=person, session=session)
    return session, people[5:]


def offered_in(session: Session) -> list[Person]:
    return [
        place.person
        for place in WaitingPlace.objects.filter(session=session, status="offered").order_by("pk")
    ]


def test_what_comes_free_at_once_goes_to_the_first_of_the_line_and_to_no_newcomer(town: Town) -> None:
    with time_machine.travel(NINE, tick=False):
        session, line = full_with_line(town, waiting=6)
        leaving = [(seat.person, seat) for seat in session.seat_rows.select_related("person", "session")[:3]]
        newcomer = town.student

        def give_back(person: Person, seat: Seat) -> Callable[[], object]:
            return lambda: cancel_seat(actor=person, seat=seat)

        acts = [give_back(*one) for one in leaving]
        acts += [lambda: reserve_class_seat(actor=newcomer, session=session)] * 5
        answers = at_once(acts, THREADS)

    assert answers["done"] == 3
    assert {answer.split(":")[0] for answer in answers} == {"done", "seats-promised"}
    assert offered_in(session) == line[:3]
    assert session.seat_rows.filter(status__in=["kept", "booked"]).count() == 5


def test_many_who_make_the_round_at_once_pass_an_offer_on_once(town: Town) -> None:
    with time_machine.travel(NINE, tick=False) as clock:
        session, line = full_with_line(town, waiting=3)
        seat = session.seat_rows.select_related("person", "session").first()
        assert seat is not None
        cancel_seat(actor=seat.person, seat=seat)
        clock.shift(dt.timedelta(hours=12))

        at_once([go_on] * THREADS, THREADS)

    assert offered_in(session) == [line[1]]
    for person, subject in ((line[0], "The offer has lapsed"), (line[1], "A seat is free")):
        assert Message.objects.filter(person=person, subject__startswith=subject).count() == 1


@pytest.mark.parametrize(("round_", "subject"), [(flag_sessions, "Below"), (remind, "To ")])
def test_many_who_make_a_round_at_once_tell_everybody_once(
    town: Town, round_: Callable[[], int], subject: str
) -> None:
    with time_machine.travel(NINE, tick=False) as clock:
        town.courses["beads"].min_seats = 5
        town.courses["beads"].save()
        session = book(town, "beads", local(4, 18))
        reserve_class_seat(actor=town.student, session=session)
        clock.move_to(local(4, 9))

        answers = at_once([round_] * THREADS, THREADS)

    told = Message.objects.filter(subject__startswith=subject).values_list("person__name", flat=True)
    assert answers == {"done": THREADS}
    assert len(told) == len(set(told)) == 2
