"""Whoever sat in a class that is called off is told where a seat in the same course is free."""

from __future__ import annotations

import pytest

from scheduling.models import Message, WaitingPlace
from scheduling.services.cancelling import cancel_session
from scheduling.services.keeping import keep_seat
from scheduling.services.seats import reserve_class_seat
from studios.models import Person
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


def called_off(person: Person) -> str:
    return Message.objects.get(person=person, subject__startswith="Called off").body


def test_three_other_meetings_with_a_free_seat_are_named_by_the_studios_clock(town: Town) -> None:
    gone = book(town, "boro", local(4, 18))
    reserve_class_seat(actor=town.student, session=gone)
    full = book(town, "boro", local(5, 18))
    reserve_class_seat(actor=town.other_student, session=full)
    for day in (6, 7, 8, 9):
        book(town, "boro", local(day, 18))
    book(town, "beads", local(10, 18))

    cancel_session(actor=town.manager, session=gone)

    assert called_off(town.student).splitlines() == [
        "boro at Flame, Fri 7 Mar 2031, 18:00 CST, is called off.",
        "With a free seat:",
        "boro at Flame, Sun 9 Mar 2031, 18:00 CDT",
        "boro at Flame, Mon 10 Mar 2031, 18:00 CDT",
        "boro at Flame, Tue 11 Mar 2031, 18:00 CDT",
    ]
    assert "free seat" not in called_off(town.instructor)


def test_where_there_is_none_none_is_named(town: Town) -> None:
    gone = book(town, "boro", local(4, 18))
    reserve_class_seat(actor=town.student, session=gone)

    cancel_session(actor=town.manager, session=gone)

    assert called_off(town.student) == "boro at Flame, Fri 7 Mar 2031, 18:00 CST, is called off."


def test_who_waits_and_has_a_seat_kept_besides_is_told_of_it_once(town: Town) -> None:
    gone = book(town, "boro", local(4, 18))
    WaitingPlace.objects.create(session=gone, person=town.student)
    keep_seat(actor=town.student, session=gone)

    cancel_session(actor=town.manager, session=gone)

    assert called_off(town.student) == "boro at Flame, Fri 7 Mar 2031, 18:00 CST, is called off."
