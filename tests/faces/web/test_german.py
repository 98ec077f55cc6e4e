"""Every page is German to a German reader: its words, its dates, its lang attribute."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client

from scheduling.models import AuditEntry, Course
from studios.models import Equipment, GlassType, Person, Studio, Supply
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
    """What stands on the pages as somebody typed it, the longest first; the audit is kept in English."""
    names = [
        *(
            name
            for model in (Studio, Equipment, Supply, Course, GlassType)
            for name in model.objects.values_list("name", flat=True)
        ),
        *AuditEntry.objects.values_list("said", flat=True),
        *("a belt", "my phone", TITLE),
    ]
    return sorted(names, key=len, reverse=True)


def english_in(words: str, names: list[str]) -> list[str]:
    for name in names:
        words = words.replace(name, "")
    return [words[max(0, m.start() - 40) : m.end() + 40] for m in ENGLISH.finditer(words)]


def test_no_page_has_english_left(pages: dict[str, Reader]) -> None:
    names = typed()

    left = {path: found for path, page in pages.items() if (found := english_in(page.words, names))}

    assert not left, "\n".join(f"{path}: {found}" for path, found in left.items())


def test_every_page_says_that_it_is_german(pages: dict[str, Reader]) -> None:
    for path, page in pages.items():
        assert page.all("html", lang="de"), path
