"""Classes that somebody assists in: who is found, who is told, and whose time it takes."""

from __future__ import annotations

import datetime as dt

import pytest

from scheduling.errors import NoStart, PersonBusy
from scheduling.models import Message, PersonSpan, SupplyUse
from scheduling.selectors.calendar import events_of
from scheduling.selectors.offers import best_starts
from scheduling.selectors.options import Option, examine
from scheduling.selectors.sessions import sessions_with_seats, taught_by
from scheduling.selectors.teaching import could_assist
from scheduling.services.cancelling import cancel_session
from scheduling.services.seats import reserve_class_seat
from scheduling.services.series import book_series
from studios.models import Membership, Person, Studio
from tests.invariants import broken
from tests.services.test_booking import book
from tests.services.test_rooms import hall, reasons_of, there
from tests.worlds import FIRST_MONDAY, Town, local, sign_off

pytestmark = pytest.mark.django_db
HOT = ("furnace", "glory-hole", "annealer")


def an_instructor(town: Town, name: str, *studios: Studio, kinds: tuple[str, ...] = HOT) -> Person:
    """Somebody else who may teach at some studios."""
    person = Person.objects.create_user(f"{name.lower()}@town.example", "glass", name=name)
    for studio in studios:
        Membership.objects.create(person=person, studio=studio, role="instructor")
        sign_off(person, studio, kinds)
    return person


def assisted(town: Town, course: str, count: int) -> None:
    town.courses[course].assistants = count
    town.courses[course].save()


def subjects(person: Person) -> list[str]:
    return list(Message.objects.filter(person=person).order_by("pk").values_list("subject", flat=True))


def test_whoever_else_may_teach_it_assists_from_set_up_to_clean_up_and_is_told(town: Town) -> None:
    assisted(town, "paperweights", 1)

    session = book(town, "paperweights", local(1, 18))

    assert list(session.assistants.all()) == [town.other_instructor]
    spans = PersonSpan.objects.filter(session=session).values_list("person__name", "starts_at", "ends_at")
    assert sorted(spans) == [
        ("Instructor", local(1, 17, 45), local(1, 21, 15)),
        ("Other_Instructor", local(1, 17, 45), local(1, 21, 15)),
    ]
    assert subjects(town.other_instructor) == ["You assist: paperweights"]
    assert "Assisting: Other_Instructor." in Message.objects.get(person=town.instructor).body
    assert broken() == []


def test_only_who_is_signed_off_for_all_that_it_needs_can_assist(town: Town) -> None:
    assisted(town, "blowing", 1)
    an_instructor(town, "Apprentice", town.hot_shop, kinds=("furnace", "glory-hole"))
    away = an_instructor(town, "Away", town.flame)
    left = an_instructor(town, "Left", town.hot_shop)
    left.is_active = False
    left.save()

    found = could_assist(town.courses["blowing"], town.hot_shop, town.instructor)

    assert found == [town.other_instructor]
    assert away not in found


def test_who_assists_teaches_nothing_else_meanwhile_and_takes_no_seat(town: Town) -> None:
    assisted(town, "blowing", 1)
    session = book(town, "blowing", local(1, 18))

    with pytest.raises(NoStart, match="Other_Instructor has blowing at Hot shop from"):
        book(town, "tiles", local(1, 18), town.other_instructor)
    with pytest.raises(PersonBusy, match="Other_Instructor already has blowing"):
        reserve_class_seat(actor=town.other_instructor, session=session)
    assert session not in sessions_with_seats(person=town.other_instructor)
    assert list(taught_by(town.other_instructor)) == [session]


def test_a_class_without_a_free_assistant_is_refused_with_who_does_what(town: Town) -> None:
    assisted(town, "blowing", 1)
    book(town, "tiles", local(1, 18), town.other_instructor)

    with pytest.raises(NoStart) as no:
        book(town, "blowing", local(1, 19))

    (reason,) = reasons_of(no.value)
    assert reason["code"] == "assistants-busy"
    assert reason["sentence"] == (
        "blowing needs 1 assistant, and nobody is free: Other_Instructor has tiles at Flame "
        "from Tue 4 Mar 18:00 to 20:00, and 30 min on the way."
    )
    assert reason["until"] == local(1, 20, 30)


def test_too_few_who_could_assist_at_all_is_said(town: Town) -> None:
    assisted(town, "blowing", 2)

    with pytest.raises(NoStart, match="blowing needs 2 assistants, and only 1 could assist at Hot shop"):
        book(town, "blowing", local(1, 18))


def test_the_first_who_is_free_is_taken(town: Town) -> None:
    assisted(town, "blowing", 1)
    helper = an_instructor(town, "Helper", town.hot_shop)
    book(town, "tiles", local(1, 18), town.other_instructor)

    session = book(town, "blowing", local(1, 18))

    assert list(session.assistants.all()) == [helper]


def test_assistants_count_in_the_room(town: Town) -> None:
    assisted(town, "blowing", 1)
    room = hall(town)

    book(town, "blowing", local(1, 18))

    assert there(room) == [(8, "furnace")]
    assert SupplyUse.objects.filter(supply=room).count() == 1


def test_who_assists_is_free_again_and_told_when_it_is_called_off(town: Town) -> None:
    assisted(town, "blowing", 1)
    session = book(town, "blowing", local(1, 18))

    cancel_session(actor=town.instructor, session=session)

    assert subjects(town.other_instructor) == ["You assist: blowing", "Called off: blowing"]
    assert not PersonSpan.objects.filter(session=session).exists()
    book(town, "tiles", local(1, 18), town.other_instructor)


def test_a_weekly_class_has_an_assistant_in_each_week_and_tells_each_once(town: Town) -> None:
    assisted(town, "blowing", 1)
    helper = an_instructor(town, "Helper", town.hot_shop)
    book(town, "tiles", local(8, 18), town.other_instructor)
    tuesdays = [FIRST_MONDAY + dt.timedelta(days=1 + 7 * week) for week in range(3)]

    series = book_series(
        actor=town.instructor,
        course=town.courses["blowing"],
        studio=town.hot_shop,
        instructor=town.instructor,
        days=tuesdays,
        time=dt.time(18),
    )

    weeks = [list(session.assistants.all()) for session in series.sessions.order_by("starts_at")]
    assert weeks == [[town.other_instructor], [helper], [town.other_instructor]]
    assert "You assist: blowing, 2 meetings" in subjects(town.other_instructor)
    assert subjects(helper) == ["You assist: blowing, 1 meeting"]


def test_the_class_is_in_the_calendar_of_who_assists(town: Town) -> None:
    assisted(town, "blowing", 1)
    book(town, "blowing", local(1, 18))

    (event,) = events_of(person=town.other_instructor, from_at=local(1, 0), to_at=local(2, 0))

    assert (event.title, event.starts_at, event.opaque) == ("blowing", local(1, 18), True)
    assert "Taught by Instructor, assisting: Other_Instructor." in event.description


def test_an_offer_says_who_assists_and_is_made_only_where_somebody_can(town: Town) -> None:
    assisted(town, "blowing", 1)
    book(town, "tiles", local(1, 18), town.other_instructor)
    course = town.courses["blowing"]

    found = best_starts(
        course=course,
        instructor=town.instructor,
        studios=[town.hot_shop],
        first_day=local(1, 0).date(),
        last_day=local(1, 0).date(),
        time=dt.time(18),
    )
    answer = examine(course=course, instructor=town.instructor, studio=town.hot_shop, starts_at=local(2, 18))

    assert len(found) == 1
    ends, starts = found[0].option.ends_at, found[0].option.starts_at
    assert ends <= local(1, 17, 30) or starts >= local(1, 20, 30)
    assert isinstance(answer, Option)
    assert "Other_Instructor assists." in answer.notes
