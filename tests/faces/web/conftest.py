"""Pages as a person meets them: read back with a parser, without JavaScript."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

import pytest
from django.test import Client

from studios.models import Person

BLOCKS = {"td", "th", "dt", "dd", "li", "p", "div", "h1", "h2", "h3", "option"}


class Reader(HTMLParser):
    """The elements of a page with their attributes, and all of its words."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.parts: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))
        if tag in BLOCKS:
            self.parts.append(" ")

    def handle_data(self, data: str) -> None:
        self.parts.append(data)

    @property
    def words(self) -> str:
        """What is read, with single blanks."""
        return " ".join("".join(self.parts).split())

    def all(self, tag: str, **attributes: str) -> list[dict[str, str]]:
        """The elements of a name that have these attributes."""
        wanted = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items()}
        return [found for name, found in self.elements if name == tag and wanted.items() <= found.items()]


@dataclass
class Visit:
    """Somebody at the pages; follows redirects and keeps the status."""

    client: Client = field(default_factory=Client)
    status: int = 0
    last: str = ""

    def get(self, path: str, **query: Any) -> Reader:
        return self._read(self.client.get(path, query, follow=True))

    def post(self, path: str, **fields: Any) -> Reader:
        return self._read(self.client.post(path, fields, follow=True))

    def _read(self, response: Any) -> Reader:
        self.status, self.last = response.status_code, response.request["PATH_INFO"]
        return Reader(response.content.decode())


@pytest.fixture
def visit() -> Callable[[Person | None], Visit]:
    """The pages as one person sees them; None: somebody not signed in."""

    def as_person(person: Person | None) -> Visit:
        visitor = Visit()
        if person is not None:
            visitor.client.force_login(person)
        return visitor

    return as_person
