"""`python -m tests.scenarios.hammer.town PEOPLE SEED`: a town of committed rows, described in JSON.

A small hot set: few classes in few days, few torches, firings that burn just now, and many people.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from random import Random
from typing import Any

import django

django.setup()

import time_machine  # noqa: E402  (the application registry must be ready)
from django.utils import timezone  # noqa: E402
from rest_framework.authtoken.models import Token  # noqa: E402

from scheduling.models import Firing, Session  # noqa: E402
from scheduling.services.booking import book_session  # noqa: E402
from studios.errors import LehrbookError  # noqa: E402
from studios.models import BenchHours, Membership, Person, StaffedHours, Studio  # noqa: E402
from tests.scenarios.hammer import kilns_of_town  # noqa: E402
from tests.worlds import Town, build_town, sign_off  # noqa: E402

ALL_DAY = {"opens": dt.time(0), "closes": dt.time(23, 59)}
KINDS = ("furnace", "glory-hole", "torch", "kiln", "annealer", "cold-station")
DAYS = (3, 4, 5)
JOBS = 6
# So short that what is kept lapses while everybody is at it.
KEPT_MIN = 1


def build(people: int, seed: int) -> dict[str, Any]:
    """Build it, book what stands before anybody comes, and say what there is."""
    town, random = build_town(), Random(seed)
    kilns_of_town.build(town)
    StaffedHours.objects.update(**ALL_DAY)
    BenchHours.objects.update(**ALL_DAY)
    # Nothing is decided by itself, so that the tables rest when all is told.
    Studio.objects.update(keep_seat_min=KEPT_MIN, decision_days=0)
    students = [*(_person(town, number, "student") for number in range(people))]
    teachers = [*(_person(town, number, "instructor") for number in range(4))]
    _burning_now(town, teachers)
    begin = timezone.now().replace(minute=0, second=0, microsecond=0)
    days = [begin + dt.timedelta(days=day) for day in DAYS]
    _classes(town, teachers, days, random)
    clients = [_described(person) for person in students]
    return {
        "students": clients,
        "teachers": [_described(person) for person in teachers],
        "technicians": [_described(town.technician)],
        "managers": [_described(town.manager)],
        "courses": {row.slug: row.studios.get().slug for row in town.courses.values()},
        "torches": [str(torch.uid) for torch in town.torches],
        "equipment": [str(row.uid) for row in town.equipment.values()],
        "sessions": [str(uid) for uid in _to_come().values_list("uid", flat=True)],
        "firings": [str(uid) for uid in _burning().values_list("uid", flat=True)],
        "days": [day.isoformat() for day in days],
        "zone": town.flame.time_zone,
        **kilns_of_town.described(town, list(zip(students, clients, strict=True))[:JOBS]),
    }


def _person(town: Town, number: int, role: str) -> Person:
    name = f"{role.title()} {number}"
    person = Person.objects.create(email=f"{role}{number}@town.example", name=name)
    for studio in (town.hot_shop, town.flame):
        Membership.objects.create(person=person, studio=studio, role=role)
        sign_off(person, studio, KINDS if role == "instructor" else ["torch"])
    return person


def _described(person: Person) -> dict[str, str]:
    token = Token.objects.create(user=person)
    return {"uid": str(person.uid), "token": token.key, "key": str(person.pk)}


def _burning_now(town: Town, teachers: list[Person]) -> None:
    """Classes of the last hours, whose pieces lie in firings that are not at their end."""
    now = timezone.now().replace(second=0, microsecond=0)
    with time_machine.travel(now - dt.timedelta(days=1)):
        for hours, name in ((7, "blowing"), (5, "beads"), (4, "tiles")):
            _book(town, name, teachers[hours % len(teachers)], now - dt.timedelta(hours=hours))


def _classes(town: Town, teachers: list[Person], days: list[dt.datetime], random: Random) -> None:
    for day in days:
        for name in ("beads", "blowing", "beads", "boro", "tiles"):
            _book(town, name, random.choice(teachers), day + dt.timedelta(hours=random.randrange(12)))


def _book(town: Town, name: str, teacher: Person, starts_at: dt.datetime) -> None:
    course = town.courses[name]
    what: dict[str, Any] = {"actor": teacher, "instructor": teacher, "starts_at": starts_at}
    try:
        book_session(course=course, studio=course.studios.get(), **what)
    except LehrbookError:
        return  # two at one time; there are enough


def _to_come() -> Any:
    return Session.objects.filter(starts_at__gt=timezone.now()).order_by("pk")


def _burning() -> Any:
    return Firing.objects.filter(at_hold_at__lte=timezone.now()).order_by("pk")


if __name__ == "__main__":
    # What it prints before is mail, where no worker delivers it.
    sys.stdout.write("\n" + json.dumps(build(int(sys.argv[1]), int(sys.argv[2]))))
