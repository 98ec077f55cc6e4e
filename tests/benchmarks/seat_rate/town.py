"""`python -m tests.benchmarks.seat_rate.town`: classes with room, and people who want in, said in JSON.

One class is hot: everybody wants in. A hundred others have twelve seats each. All lie in one studio, so far
apart that nobody is in two places at a time.
"""

from __future__ import annotations

import datetime as dt
import json
import sys

import django

django.setup()

from django.utils import timezone  # noqa: E402  (the application registry must be ready)
from rest_framework.authtoken.models import Token  # noqa: E402

from scheduling.models import Booking, Session  # noqa: E402
from studios.models import Membership, Person, SafetyText  # noqa: E402
from tests.worlds import Town, build_town  # noqa: E402

HOT_SEATS, CLASSES, SEATS = 120, 100, 12


def build() -> dict[str, list[str]]:
    """Classes as rows: what they hold of the equipment is no part of the question."""
    town = build_town()
    hot = _session(town, 0, HOT_SEATS)
    many = [_session(town, number, SEATS) for number in range(1, CLASSES + 1)]
    SafetyText.objects.all().delete()
    people = [_person(town, number) for number in range(CLASSES * SEATS)]
    return {"hot": [str(hot.uid)], "many": [str(one.uid) for one in many], "tokens": people}


def _session(town: Town, number: int, seats: int) -> Session:
    course = town.courses["blowing"]
    studio = course.studios.get()
    starts_at = timezone.now().replace(minute=0, second=0, microsecond=0) + dt.timedelta(days=10 + number)
    return Session.objects.create(
        booking=Booking.objects.create(studio=studio, booked_by=town.instructor),
        course=course,
        studio=studio,
        instructor=town.instructor,
        starts_at=starts_at,
        ends_at=starts_at + dt.timedelta(minutes=course.minutes),
        seats=seats,
    )


def _person(town: Town, number: int) -> str:
    person = Person.objects.create(email=f"student{number}@town.example", name=f"Student {number}")
    Membership.objects.create(person=person, studio=town.courses["blowing"].studios.get(), role="student")
    return str(Token.objects.create(user=person).key)


if __name__ == "__main__":
    sys.stdout.write("\n" + json.dumps(build()))
