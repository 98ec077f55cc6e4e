"""Bookings for the pages to show."""

from __future__ import annotations

import datetime as dt

from scheduling.models import Seat, Session
from scheduling.services.booking import book_session
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.worlds import Town, local

WEEK = "2031-W10"


def a_class(town: Town, course: str = "blowing", starts_at: dt.datetime | None = None) -> Session:
    """A class of the town's instructor, on Tuesday at six unless said."""
    chosen = town.courses[course]
    return book_session(
        actor=town.instructor,
        course=chosen,
        studio=chosen.studios.get(),
        instructor=town.instructor,
        starts_at=starts_at or local(1, 18),
    )


def a_seat(session: Session, person: Person) -> Seat:
    """A seat in a class."""
    return reserve_class_seat(actor=person, session=session)


def a_torch(town: Town, number: int, person: Person, hour: int = 12) -> Seat:
    """Two hours at a torch on Wednesday."""
    torch = town.torches[number - 1]
    return reserve_bench_torch(
        actor=person, torch=torch, starts_at=local(2, hour), ends_at=local(2, hour + 2)
    )
