"""A week booked through the services, the one in which the clocks go forward, goes out as it is stored."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from scheduling.models import Firing, Session
from scheduling.services.booking import book_session
from scheduling.services.calendars import new_feed_key
from scheduling.services.cancelling import cancel_session
from scheduling.services.seats import reserve_bench_torch, reserve_class_seat
from studios.models import Person
from tests.faces.feeds.readers import READERS, Seen, by_icalendar
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db

BEFORE = local(0, 9)


def booked(town: Town, course: str, starts_at: dt.datetime) -> Session:
    chosen = town.courses[course]
    return book_session(
        actor=town.instructor,
        course=chosen,
        studio=chosen.studios.get(),
        instructor=town.instructor,
        starts_at=starts_at,
    )


def subscribed(client: Client, person: Person) -> bytes:
    key = new_feed_key(actor=person, label="phone")
    return bytes(client.get(reverse("feed", args=[key.key])).content)


def spans(seen: list[Seen]) -> list[tuple[str, dt.datetime, dt.datetime]]:
    return sorted((each.title, each.starts_at, each.ends_at) for each in seen)


@time_machine.travel(BEFORE, tick=False)
@pytest.mark.parametrize("reader_number", range(len(READERS)))
def test_the_main_job_as_a_calendar(town: Town, client: Client, reader_number: int) -> None:
    """A blowing class on Saturday evening, beads on Thursday: classes, firings and unloading."""
    blowing, beads = booked(town, "blowing", local(5, 18)), booked(town, "beads", local(3, 18))

    seen = READERS[reader_number](subscribed(client, town.instructor))

    expected = []
    for session in (blowing, beads):
        firing = Firing.objects.select_related("equipment", "occupancy").get(loads__session=session)
        name = firing.equipment.name
        expected += [
            (session.course.name, session.starts_at, session.ends_at),
            (f"Anneal: {name}", session.ends_at, firing.unload_at),
            (f"Unload {name}", firing.unload_at, firing.occupancy.ends_at),
        ]
    assert spans(seen) == sorted(expected)


@time_machine.travel(BEFORE, tick=False)
def test_the_night_of_the_change_is_an_hour_longer_by_the_clock(town: Town, client: Client) -> None:
    """The same class on Friday and on Saturday: the annealer takes as long, the clocks do not."""
    booked(town, "blowing", local(4, 18))
    booked(town, "blowing", local(5, 18))

    firings = list(Firing.objects.order_by("last_in_at"))
    friday, saturday = (
        (firing.cool_at - firing.last_in_at, firing.cool_at.astimezone(town.hot_shop.zone).time())
        for firing in firings
    )
    told = [
        line
        for line in subscribed(client, town.instructor).decode().replace("\r\n ", "").split("\r\n")
        if line.startswith("DESCRIPTION:blowing") and "Holding" in line
    ]

    assert friday[0] == saturday[0]
    assert (saturday[1].hour - friday[1].hour, saturday[1].minute) == (1, friday[1].minute)
    assert f"{friday[1]:%H:%M} CST" in told[0]
    assert f"{saturday[1]:%H:%M} CDT" in told[1]


@time_machine.travel(BEFORE, tick=False)
def test_a_students_seats_and_what_becomes_of_them(town: Town, client: Client) -> None:
    beads = booked(town, "beads", local(3, 18))
    reserve_class_seat(actor=town.student, session=beads, torch=town.torches[1])
    reserve_bench_torch(
        actor=town.student, torch=town.torches[6], starts_at=local(2, 14), ends_at=local(2, 16)
    )
    out = Firing.objects.get().occupancy.ends_at

    before = by_icalendar(subscribed(client, town.student))
    cancel_session(actor=town.instructor, session=beads)
    after = by_icalendar(subscribed(client, town.student))

    assert spans(before) == [
        ("Bench time, torch 7", local(2, 14), local(2, 16)),
        ("Pieces ready to collect", out, out),
        ("beads, torch 2", local(3, 18), local(3, 21)),
    ]
    assert [(each.title, each.status) for each in after] == [
        ("Bench time, torch 7", "CONFIRMED"),
        ("beads, torch 2", "CANCELLED"),
    ]


@time_machine.travel(BEFORE, tick=False)
def test_a_cancelled_class_stays_visible_and_its_firing_goes(town: Town, client: Client) -> None:
    cancel_session(actor=town.instructor, session=booked(town, "blowing", local(5, 18)))
    (seen,) = by_icalendar(subscribed(client, town.instructor))
    assert (seen.title, seen.status, seen.transparency) == ("blowing", "CANCELLED", "TRANSPARENT")
