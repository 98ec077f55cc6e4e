"""At the kiln with a phone: what happened is pressed, what it comes to is read; pieces are handed back."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from scheduling.models import Actual, Collection, Firing, Session
from studios.models import Person
from tests.services.test_booking import book, firing_of
from tests.services.test_pick_up import sits
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db


@pytest.fixture
def session(town: Town) -> Session:
    with time_machine.travel(local(0, 9), tick=False):
        found = book(town, "blowing", local(1, 18))
        sits(found, town.student, 1)
        return found


@pytest.fixture
def firing(session: Session) -> Iterator[Firing]:
    """Wednesday noon, after a blowing class on Tuesday evening."""
    with time_machine.travel(local(2, 12), tick=False):
        yield firing_of(session)


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def record(town: Town, firing: Firing, kind: str, time: str, day: str = "2031-03-05", read: str = "") -> str:
    answer = client_of(town.technician).post(
        reverse("record-actual", args=[firing.uid]),
        {"kind": kind, "day": day, "at": time, "read_c": read, "note": ""},
        follow=True,
    )
    return answer.content.decode()


def page_of(person: Person, name: str, *args: object) -> str:
    return client_of(person).get(reverse(name, args=args)).content.decode()


def test_the_time_is_now_by_the_studios_clock_until_it_is_changed(town: Town, firing: Firing) -> None:
    page = page_of(town.technician, "firing", firing.uid)

    assert 'name="day" value="2031-03-05"' in page
    assert 'name="at" value="12:00"' in page
    assert page.index('value="temperature"') < page.index('value="lit"')
    assert "Temperature read (°C)" in page
    assert "the makers’ instructions and licensed practice decide" in page


def test_what_to_mind_at_the_kiln_is_said_in_the_readers_language(town: Town, session: Session) -> None:
    Person.objects.filter(pk=town.technician.pk).update(language="de")
    with time_machine.travel(local(1, 20), tick=False):
        firing = firing_of(session)
        page = record(town, firing, "temperature", "19:30", day="2031-03-04", read="300")

        assert page.count("Sehen Sie nach, ob die Heizung läuft") == 2  # once as told, once as it stands
        assert "look whether" not in page


def test_a_temperature_is_read_and_the_curve_goes_on_from_there(town: Town, firing: Firing) -> None:
    page = record(town, firing, "temperature", "10:30", read="120")

    actual = Actual.objects.get()
    assert (actual.at, actual.read_c, actual.recorded_by) == (local(2, 10, 30), 120.0, town.technician)
    assert "120 °C / 248 °F" in page
    assert "Technician" in page
    assert "The firing is worked out anew" in page


def test_where_the_studio_reads_fahrenheit_so_does_the_form(town: Town, firing: Firing) -> None:
    town.hot_shop.temperature_unit = "F"
    town.hot_shop.save()

    page = record(town, firing, "temperature", "10:30", read="248")

    assert Actual.objects.get().read_c == pytest.approx(120.0)
    assert "Temperature read (°F)" in page


def test_what_makes_no_sense_is_said_beside_the_time(town: Town, firing: Firing) -> None:
    page = record(town, firing, "opened", "15:00")

    assert "this time is to come" in page
    assert not Actual.objects.exists()


def test_broken_off_it_says_that_it_must_be_annealed_again(town: Town, firing: Firing) -> None:
    record(town, firing, "power-lost", "21:20", day="2031-03-04")

    assert "it must be annealed again" in page_of(town.technician, "firing", firing.uid)
    assert "To be annealed again" in page_of(town.technician, "pick-up")
    assert "handed to nobody" in page_of(town.technician, "unload", firing.uid)
    assert "pieces to be collected" not in page_of(town.student, "my-seats")


def test_struck_it_stays_to_be_seen(town: Town, firing: Firing) -> None:
    record(town, firing, "temperature", "10:30", read="120")

    answer = client_of(town.technician).post(
        reverse("strike-actual", args=[Actual.objects.get().uid]), follow=True
    )

    assert Actual.objects.get().struck_at is not None
    assert "struck Wed 5 Mar" in answer.content.decode()


def test_students_see_what_was_recorded_and_record_nothing(town: Town, firing: Firing) -> None:
    record(town, firing, "temperature", "10:30", read="120")

    page = page_of(town.student, "firing", firing.uid)

    assert "120 °C" in page
    assert "big-buttons" not in page
    assert "Technician" not in page


def test_unloaded_onto_a_shelf_the_student_sees_where_and_it_is_handed_over(
    town: Town, firing: Firing
) -> None:
    load = firing.loads.get()
    technician = client_of(town.technician)

    technician.post(reverse("unload", args=[firing.uid]), {f"shelf-{load.pk}": "shelf 3, left"})

    assert "shelf 3, left" in page_of(town.student, "my-seats")
    assert "shelf 3, left" in page_of(town.technician, "pick-up")
    collection = Collection.objects.get()
    answer = technician.post(
        reverse("mark-collected", args=[collection.uid]), {"collected": "yes"}, follow=True
    )
    assert "handed over by Technician" in answer.content.decode()
    assert "shelf 3, left" not in page_of(town.student, "my-seats")


def test_without_a_shelf_nothing_is_unloaded(town: Town, firing: Firing) -> None:
    load = firing.loads.get()

    answer = client_of(town.technician).post(reverse("unload", args=[firing.uid]), {f"shelf-{load.pk}": ""})

    assert answer.status_code == 409
    assert "Say where they lie." in answer.content.decode()
    assert not Actual.objects.exists()


def test_what_it_breaks_is_listed_on_its_page_with_the_nearest_repair(town: Town) -> None:
    with time_machine.travel(local(0, 9), tick=False) as clock:
        firing = firing_of(book(town, "blowing", local(1, 18)))
        town.equipment["annealer 2"].active = False
        town.equipment["annealer 2"].save()
        after = book(town, "blowing", local(2, 18), town.other_instructor)
        clock.move_to(local(2, 15))
        assert "What it breaks" not in page_of(town.technician, "firing", firing.uid)

        page = record(town, firing, "temperature", "14:50", read="300")

    breaks = page[page.index("What it breaks") :]
    assert reverse("session", args=[after.uid]) in breaks
    assert "annealer 1 is cool at Thu 6 Mar" in breaks
