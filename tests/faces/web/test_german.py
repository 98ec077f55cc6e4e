"""Every page is German to a German reader: its words, its dates, its lang attribute."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode
from zoneinfo import available_timezones

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from scheduling.engine.wording import holders
from scheduling.models import AuditEntry, Course, Message
from scheduling.reader import reading, spoken
from studios.models import Equipment, GlassType, Person, Studio, Supply, ThermalRecord
from studios.thermal.families import FAMILIES
from tests.faces.permissions.cast import MONDAY_NINE, Cast
from tests.faces.permissions.pages import ROWS
from tests.faces.permissions.table import Row
from tests.faces.web.bookings import a_class, a_seat
from tests.faces.web.conftest import Reader, Visit
from tests.faces.web.test_every_page import pages
from tests.worlds import Town

__all__ = ["pages"]
pytestmark = pytest.mark.django_db

# Small words that no German sentence has, and no name in the town.
ENGLISH = re.compile(
    r"\b(the|is|are|of|and|you|your|it|its|to|from|until|with|without|by|at|on|this|that|not|no|be|been|has|"
    r"have|or|for|what|when|where|which|who|whose|they|their|there|then|than|every|each|here|may|can|must|"
    r"open|close|class|classes|seat|seats|day|week|hours|minutes|kiln|annealer|torches|course|studio's)\b"
)
# A number with a point before its unit; a German reads a thousand there.
POINTED = re.compile(r"\d\.\d+ ?(?:h|min|mm|in|K|kg|kWh?|MPa|L|m³|°|EUR|USD)(?![a-z])")
TITLE = "HSE, Safe use of kilns in schools and craft studios"


@pytest.fixture(autouse=True)
def german(town: Town) -> None:
    Person.objects.update(language="de")
    for person in town.people.values():
        person.refresh_from_db()


@pytest.fixture
def visit() -> Callable[[Person | None], Visit]:
    """The pages as a German sees them, in a German browser."""

    def as_person(person: Person | None) -> Visit:
        visitor = Visit(client=Client(headers={"accept-language": "de"}))
        if person is not None:
            visitor.client.force_login(person)
        return visitor

    return as_person


def typed() -> list[str]:
    """What stands on the pages as somebody typed it, the longest first; what is kept is kept in English."""
    named = (Studio, Equipment, Supply, Course, GlassType)
    names = [name for model in named for name in model.objects.values_list("name", flat=True)]
    sources = [
        text
        for model in (GlassType, ThermalRecord)
        for text in model.objects.values_list("source", flat=True)
    ]
    told = [
        *AuditEntry.objects.values_list("said", flat=True),
        *Message.objects.values_list("subject", flat=True),
    ]
    families = [text for family in FAMILIES.values() for text in (family.glass.name, family.source)]
    places = [zone.partition("/")[2].replace("_", " ") for zone in available_timezones()]
    every = {*names, *sources, *told, *families, *places, "a belt", "my phone", TITLE} - {""}
    return sorted(every, key=len, reverse=True)


def english_in(words: str, names: list[str]) -> list[str]:
    for name in names:
        words = words.replace(name, "")
    return [words[max(0, m.start() - 40) : m.end() + 40] for m in ENGLISH.finditer(words)]


def test_no_page_has_english_left(pages: dict[str, Reader]) -> None:
    names = typed()

    left = {path: found for path, page in pages.items() if (found := english_in(page.words, names))}

    assert not left, "\n".join(f"{path}: {found}" for path, found in left.items())


def somebody_who_may(row: Row, cast: Cast) -> Person:
    for (role, slug), person in cast.tries.items():
        if row.allows(role, here=slug == row.at):
            return person
    return cast.seated


def words_of(row: Row, cast: Cast) -> str:
    """What somebody who may reads at an address, in German."""
    person = somebody_who_may(row, cast)
    Person.objects.update(language="de")
    row.before(cast, person)
    query = urlencode(row.query(cast, person), doseq=True)
    address = reverse(row.name, kwargs=row.made(cast, person)) + (f"?{query}" if query else "")
    client = Client(headers={"accept-language": "de"})
    client.force_login(Person.objects.get(pk=person.pk))
    ask = client.get if row.method == "GET" else client.post
    answer: Any = ask(address, row.sent(cast, person) if row.method == "POST" else {}, follow=True)
    html = answer["Content-Type"].startswith("text/html")
    return Reader(answer.content.decode()).words if html else ""


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_what_comes_of_an_address_has_no_english_left(town: Town, row: Row) -> None:
    with time_machine.travel(MONDAY_NINE, tick=False):
        words = words_of(row, Cast(town=town))

    assert english_in(words, typed()) == []
    assert POINTED.findall(words) == []


def test_numbers_have_a_comma(pages: dict[str, Reader]) -> None:
    pointed = {path: found for path, page in pages.items() if (found := POINTED.findall(page.words))}

    assert not pointed


def test_the_roster_as_a_file_is_german(town: Town) -> None:
    session = a_class(town, "beads")
    a_seat(session, town.student)
    client = Client()
    client.force_login(town.instructor)

    rows = b"".join(client.get(f"/sessions/{session.uid}/roster.csv")).decode().splitlines()

    assert rows[0] == "Platz,Brenner,Name,E-Mail,Anmerkung,Preis,bezahlt,Sicherheitshinweise"
    assert rows[1].startswith("Platz 1,")


def test_several_who_hold_a_kiln_are_joined_in_german() -> None:
    with reading("de"):
        assert spoken(holders(["Perlen", "Pokale", "Perlen"])) == "Perlen und Pokale"


def test_every_page_says_that_it_is_german(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert page.all("html", lang="de"), path
