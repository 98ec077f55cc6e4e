"""Whatever a calendar shows makes it new in the moment in which it is written, and nothing else does."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from scheduling.models import About, FeedKey, Firing, Load, Occupancy, Seat, Session
from scheduling.services.actuals import record_actual
from scheduling.services.booking import book_session
from scheduling.services.calendars import new_feed_key
from scheduling.services.cancelling import cancel_session
from scheduling.services.keeping import book_kept, keep_torch
from scheduling.services.moving import move_session
from scheduling.services.outages import enter_outage
from scheduling.services.seats import cancel_seat, reserve_bench_torch, reserve_class_seat
from studios.models import Membership, Person
from tests.faces.feeds import rows
from tests.worlds import Town, add_course, local


@dataclass
class Evening:
    """A class of torches on Tuesday, with one student in it."""

    town: Town
    session: Session
    seat: Seat

    @property
    def firing(self) -> Firing:
        return Firing.objects.get(loads__session=self.session)

    def book(self, day: int, instructor: Person | None = None, course: str = "beads") -> Session:
        studio = self.town.hot_shop if course == "blowing" else self.town.flame
        who = instructor or self.town.instructor
        return book_session(
            actor=who,
            course=self.town.courses[course],
            studio=studio,
            instructor=who,
            starts_at=local(day, 18),
        )


@pytest.fixture
def evening(town: Town) -> Iterator[Evening]:
    with time_machine.travel(local(0, 9), tick=False):
        session = book_session(
            actor=town.instructor,
            course=town.courses["beads"],
            studio=town.flame,
            instructor=town.instructor,
            starts_at=local(1, 18),
        )
        yield Evening(
            town=town, session=session, seat=reserve_class_seat(actor=town.student, session=session)
        )


@dataclass
class Reader:
    """A calendar program with a link, and what it got last."""

    key: FeedKey
    tag: str = ""

    def asks(self) -> tuple[int, int]:
        """The status, and by how many queries."""
        headers = {"if-none-match": self.tag} if self.tag else {}
        with CaptureQueriesContext(connection) as queries:
            response = Client().get(reverse("feed", args=[self.key.key]), headers=headers)
        self.tag = response["ETag"]
        return response.status_code, len(queries)


def reader(person: Person, **about: Any) -> Reader:
    """It has read once today."""
    found = Reader(key=new_feed_key(actor=person, label="phone", **about))
    found.asks()
    assert found.asks() == (304, 1)
    return found


Act = Callable[[Evening], Any]


def rename(evening: Evening, who: str) -> None:
    person = getattr(evening.town, who)
    person.name = "Another Name"
    person.save()


def assist(evening: Evening) -> None:
    """As it comes about: the class is written anew, with who assists."""
    evening.session.save()
    evening.session.assistants.add(evening.town.other_instructor)


def later_unloading(evening: Evening) -> None:
    held = Occupancy.objects.get(firing=evening.firing)
    Occupancy.objects.filter(pk=held.pk).update(ends_at=held.ends_at + dt.timedelta(minutes=10))


def overran(evening: Evening) -> None:
    """The last piece came in later, so that the night is longer than was planned."""
    at = evening.session.ends_at + dt.timedelta(minutes=40)
    with time_machine.travel(at + dt.timedelta(hours=1), tick=False):
        record_actual(actor=evening.town.technician, firing=evening.firing, kind="last-in", at=at)


CHANGES: list[tuple[str, str, Act]] = [
    ("a class is booked", "instructor", lambda e: e.book(3)),
    (
        "a class is moved",
        "instructor",
        lambda e: move_session(actor=e.town.instructor, session=e.session, starts_at=local(1, 15)),
    ),
    (
        "a class is moved, for who sits in it",
        "student",
        lambda e: move_session(actor=e.town.instructor, session=e.session, starts_at=local(1, 15)),
    ),
    (
        "a class is called off",
        "instructor",
        lambda e: cancel_session(actor=e.town.instructor, session=e.session),
    ),
    (
        "a class is called off, for who sits in it",
        "student",
        lambda e: cancel_session(actor=e.town.instructor, session=e.session),
    ),
    (
        "a seat is reserved",
        "other_student",
        lambda e: reserve_class_seat(actor=e.town.other_student, session=e.session),
    ),
    ("a seat is given back", "student", lambda e: cancel_seat(actor=e.town.student, seat=e.seat)),
    (
        "bench time is reserved",
        "student",
        lambda e: reserve_bench_torch(
            actor=e.town.student, torch=e.town.torches[6], starts_at=local(2, 12), ends_at=local(2, 14)
        ),
    ),
    (
        "somebody assists",
        "other_instructor",
        lambda e: e.session.assistants.add(e.town.other_instructor),
    ),
    (
        "somebody assists, for who teaches",
        "instructor",
        assist,
    ),
    ("a class that overran moves a firing", "instructor", overran),
    ("a class that overran moves a firing, for who collects", "student", overran),
    ("a firing is unloaded later", "instructor", later_unloading),
    ("a firing is unloaded later, for who collects", "student", later_unloading),
    ("a load has another owner", "other_student", lambda e: Load.objects.update(owner=e.town.other_student)),
    ("the own name is another", "student", lambda e: rename(e, "student")),
    ("the teacher's name is another", "student", lambda e: rename(e, "instructor")),
    ("the studio has another address", "student", lambda e: type(e.town.flame).objects.update(address="x")),
    (
        "the course has another name",
        "student",
        lambda e: type(e.session.course).objects.filter(slug="beads").update(name="Pearls"),
    ),
]


@pytest.mark.parametrize(("who", "act"), [each[1:] for each in CHANGES], ids=[each[0] for each in CHANGES])
def test_ones_own_calendar_is_new_as_soon_as(evening: Evening, who: str, act: Act) -> None:
    program = reader(getattr(evening.town, who))

    act(evening)

    assert program.asks()[0] == 200
    assert program.asks() == (304, 1)


OTHERS: list[tuple[str, Act]] = [
    ("somebody else books a class", lambda e: e.book(2, e.town.other_instructor)),
    ("somebody else books at the other studio", lambda e: e.book(1, e.town.other_instructor, "blowing")),
    (
        "somebody else moves a class",
        lambda e: move_session(
            actor=e.town.other_instructor,
            session=e.book(3, e.town.other_instructor),
            starts_at=local(3, 14),
        ),
    ),
    (
        "somebody else reserves bench time",
        lambda e: reserve_bench_torch(
            actor=e.town.other_student, torch=e.town.torches[6], starts_at=local(2, 12), ends_at=local(2, 14)
        ),
    ),
    ("somebody else signs in", lambda e: Client().force_login(e.town.other_student)),
    ("the reader signs in", lambda e: Client().force_login(e.town.instructor)),
    ("somebody signs up", lambda _: Person.objects.create_user("new@town.example", "glass", name="New")),
]


@pytest.mark.parametrize("act", [each[1] for each in OTHERS], ids=[each[0] for each in OTHERS])
def test_what_is_not_in_it_leaves_it_alone(evening: Evening, act: Act) -> None:
    programs = [reader(evening.town.instructor), reader(evening.town.student)]
    act(evening)
    assert [program.asks() for program in programs] == [(304, 1), (304, 1)]


AT_THE_STUDIO: list[tuple[str, Act]] = [
    ("a class is booked", lambda e: e.book(3, e.town.other_instructor)),
    (
        "a class is moved",
        lambda e: move_session(actor=e.town.instructor, session=e.session, starts_at=local(1, 15)),
    ),
    ("a class is called off", lambda e: cancel_session(actor=e.town.instructor, session=e.session)),
    ("a class that overran moves a firing", overran),
    ("the teacher's name is another", lambda e: rename(e, "instructor")),
    (
        "equipment is out of use",
        lambda e: enter_outage(
            actor=e.town.technician,
            equipment=e.town.equipment["saw"],
            starts_at=local(1, 9),
            ends_at=local(1, 10),
            reason="a new belt",
        ),
    ),
]


@pytest.mark.parametrize("act", [each[1] for each in AT_THE_STUDIO], ids=[each[0] for each in AT_THE_STUDIO])
def test_the_calendar_of_a_studio_is_new_as_soon_as(evening: Evening, act: Act) -> None:
    program = reader(evening.town.manager, about=About.STUDIO, studio=evening.town.flame)

    act(evening)

    assert program.asks()[0] == 200
    assert program.asks() == (304, 1)


TALKS: list[tuple[str, Callable[[Evening, Session], Any]]] = [
    ("is booked", lambda e, _: e.book(3, e.town.other_instructor, "talk")),
    ("is moved", lambda e, talk: move_session(actor=e.town.manager, session=talk, starts_at=local(4, 15))),
    ("is called off", lambda e, talk: cancel_session(actor=e.town.manager, session=talk)),
]


@pytest.mark.parametrize("act", [each[1] for each in TALKS], ids=[each[0] for each in TALKS])
def test_the_calendar_of_a_studio_is_new_as_soon_as_a_class_that_takes_no_equipment(
    evening: Evening, act: Callable[[Evening, Session], Any]
) -> None:
    town = evening.town
    add_course(town, "talk", town.flame, "studio-96", {})
    talk = evening.book(2, town.other_instructor, "talk")
    here, there = (
        reader(town.manager, about=About.STUDIO, studio=studio) for studio in (town.flame, town.hot_shop)
    )

    act(evening, talk)

    assert [here.asks()[0], there.asks()[0]] == [200, 304]
    assert here.asks() == (304, 1)


def test_bench_time_that_was_only_kept_is_in_no_calendar_until_it_is_booked(evening: Evening) -> None:
    """It holds the torch and its oxygen as before."""
    town, torch = evening.town, evening.town.torches[6]
    seat = keep_torch(actor=town.other_student, torch=torch, starts_at=local(2, 12), ends_at=local(2, 14))
    programs = [
        reader(town.manager, about=About.STUDIO, studio=town.flame),
        reader(town.manager, about=About.EQUIPMENT, equipment=torch),
    ]

    def titles() -> list[list[str]]:
        shown = (rows.subscribed(town.manager, local(0, 9), **facts) for facts in abouts)
        return [[event.title for event in each if event.kind == "seat"] for each in shown]

    abouts = [
        {"about": About.STUDIO, "studio": town.flame},
        {"about": About.EQUIPMENT, "equipment": torch},
    ]
    before = titles()
    book_kept(actor=town.other_student, seat=seat)

    assert [program.asks()[0] for program in programs] == [200, 200]
    assert (before, titles()) == ([[], []], [["Bench time, torch 7"], ["Bench time"]])


def test_what_happens_at_another_studio_leaves_that_of_this_one_alone(evening: Evening) -> None:
    program = reader(evening.town.manager, about=About.STUDIO, studio=evening.town.flame)
    evening.book(1, evening.town.other_instructor, "blowing")
    assert program.asks() == (304, 1)


def test_one_piece_of_equipment_and_the_duties_are_new_with_what_is_held(evening: Evening) -> None:
    annealer, manager = evening.town.equipment["small annealer"], evening.town.manager
    kiln, duties = (
        reader(manager, about=About.EQUIPMENT, equipment=annealer),
        reader(manager, about=About.DUTIES, studio=evening.town.flame),
    )

    overran(evening)

    assert [kiln.asks()[0], duties.asks()[0]] == [200, 200]


def test_a_role_that_is_lost_shows_nothing_at_once(evening: Evening) -> None:
    program = reader(evening.town.student, about=About.STUDIO, studio=evening.town.flame)
    Membership.objects.filter(person=evening.town.student).delete()
    response = Client().get(reverse("feed", args=[program.key.key]), headers={"if-none-match": program.tag})
    assert response.status_code == 404
