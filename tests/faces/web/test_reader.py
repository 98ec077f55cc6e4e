"""A page is said in its reader's language and units; what has no reader stays as each studio says it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from scheduling.models import AuditEntry
from scheduling.reader import reading
from scheduling.wording import degrees, length_unit, temperature_unit
from studios.models import Person
from tests.faces.web.bookings import a_class
from tests.worlds import Town

pytestmark = pytest.mark.django_db


def signed_in(person: Person, language: str = "", units: str = "") -> Client:
    Person.objects.filter(pk=person.pk).update(language=language, units=units)
    client = Client()
    client.force_login(Person.objects.get(pk=person.pk))
    return client


@pytest.mark.parametrize(
    ("chosen", "browser", "read"),
    [
        ("", "de-AT,de;q=0.9", "de"),
        ("", "fr,en;q=0.2", "en"),
        ("", "", "en"),
        ("en", "de", "en"),
        ("de", "fr", "de"),
    ],
)
def test_the_own_choice_goes_before_the_browsers(town: Town, chosen: str, browser: str, read: str) -> None:
    client = signed_in(town.student, chosen)

    answer = client.get(reverse("account"), headers={"Accept-Language": browser})

    assert f'<html lang="{read}">' in answer.content.decode()
    assert answer["Content-Language"] == read
    assert "Accept-Language" in answer["Vary"]


def test_whoever_signs_in_is_spoken_to_as_their_browser_asks(db: None) -> None:
    answer = Client().get(reverse("sign-in"), headers={"Accept-Language": "de"})

    assert '<html lang="de">' in answer.content.decode()


def test_both_are_chosen_on_the_account_page(town: Town) -> None:
    client = signed_in(town.student)

    client.post(reverse("read-in"), {"language": "de", "units": "us"})

    town.student.refresh_from_db()
    assert (town.student.language, town.student.units) == ("de", "us")
    assert '<option value="de" selected' in client.get(reverse("account")).content.decode()
    assert {entry.did for entry in AuditEntry.objects.all()} == {"choose-language"}


def test_what_is_not_offered_is_refused_beside_its_field(town: Town) -> None:
    answer = signed_in(town.student).post(reverse("read-in"), {"language": "tlh", "units": ""})

    assert answer.status_code == 400
    assert "Choose a language." in answer.content.decode()


@pytest.mark.parametrize(("units", "read"), [("", "510 °C"), ("metric", "510 °C"), ("us", "950 °F")])
def test_a_class_shows_its_heat_in_the_units_of_its_reader(town: Town, units: str, read: str) -> None:
    session = a_class(town)

    page = signed_in(town.instructor, units=units).get(reverse("session", args=[session.uid]))

    assert read in page.content.decode()


def test_a_reader_overrules_the_studio_and_nobody_else_does(town: Town) -> None:
    town.hot_shop.temperature_unit, town.hot_shop.length_unit = "F", "in"

    with reading("en", "metric"):
        assert (temperature_unit(town.hot_shop), length_unit(town.hot_shop)) == ("C", "mm")
        assert degrees(100, town.hot_shop) == "100 °C"

    assert (temperature_unit(town.hot_shop), length_unit(town.hot_shop)) == ("F", "in")
    assert degrees(100, town.hot_shop) == "212 °F"


def test_programs_have_no_language(town: Town) -> None:
    client = signed_in(town.student, "de", "us")

    answer = client.get("/api/nothing-here", headers={"Accept-Language": "de"})

    assert "Content-Language" not in answer
    assert answer.json()["title"]
