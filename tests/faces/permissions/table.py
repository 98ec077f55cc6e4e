"""How a row of the table of addresses reads, and how one of its cells is tried."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from studios.models import Person
from studios.permissions import ACTIONS
from tests.faces.permissions.cast import Cast

ANYBODY, SIGNED_IN = "anybody", "signed-in"
Made = Callable[[Cast, Person], dict[str, Any]]
Said = Callable[[Cast, Person], str]


def nothing(_cast: Cast, _person: Person) -> dict[str, Any]:
    return {}


def uid_of(what: str) -> Made:
    """The address of one of the cast's things."""
    return lambda cast, _person: {"uid": getattr(cast, what).uid}


def shows_uid(what: str) -> Said:
    return lambda cast, _person: str(getattr(cast, what).uid)


@dataclass(frozen=True, kw_only=True)
class Row:
    """One thing that is done at an address, and the actions of `studios.permissions` any of which allows it.

    `by` may also be ANYBODY, SIGNED_IN, or nothing: then nobody may. `anywhere`: a role at any studio will
    do, as it is about the person alone. `shows` is what somebody who may finds in the answer and others do
    not, where the answer is a list or the page is the same for all.
    `before` makes what must be there, `made` the parts of the address, `query` what follows it; `sent` is
    what is posted.
    """

    name: str
    by: tuple[str, ...]
    method: str = "GET"
    note: str = ""
    at: str = "flame"
    anywhere: bool = False
    before: Callable[[Cast, Person], object] = nothing
    made: Made = nothing
    query: Made = nothing
    sent: Made = nothing
    shows: Said | None = None

    def __str__(self) -> str:
        return " ".join(part for part in (self.method, self.name, self.note) if part)

    def allows(self, role: str | None, *, here: bool) -> bool:
        """What the table says of one cell; `role` None is somebody not signed in."""
        if ANYBODY in self.by:
            return True
        if role is None:
            return False
        if SIGNED_IN in self.by:
            return True
        return (here or self.anywhere) and any(role in ACTIONS[action] for action in self.by)


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What came of a try."""

    status: int
    path: str
    text: str

    def allowed(self, shown: str | None) -> bool:
        if shown is not None:
            return self.status < 400 and shown in self.text
        refused = self.status >= 400 or 'class="notice error"' in self.text
        return not refused and self.path != "/sign-in"


def tried(row: Row, cast: Cast, person: Person | None) -> bool:
    """Whether somebody may, found out by trying."""
    as_whom = person or cast.seated
    row.before(cast, as_whom)
    address, shown = _address(row, cast, as_whom), row.shows(cast, as_whom) if row.shows else None
    client = Client(raise_request_exception=True)
    if person is not None:
        client.force_login(person)
    answer = _ask(client, row, address, row.sent(cast, as_whom))
    assert answer.status < 500, (row, answer)
    if ANYBODY in row.by and shown is None:
        return answer.status < 400
    return answer.allowed(shown)


def _address(row: Row, cast: Cast, person: Person) -> str:
    query = urlencode(row.query(cast, person), doseq=True)
    return reverse(row.name, kwargs=row.made(cast, person)) + (f"?{query}" if query else "")


def _ask(client: Client, row: Row, address: str, sent: dict[str, Any]) -> Answer:
    if row.name.startswith("api:"):
        response: Any = client.generic(row.method, address, _json(sent), "application/json")
    elif row.method == "POST":
        response = client.post(address, sent, follow=True)
    else:
        response = client.get(address, follow=True)
    text = b"".join(response) if response.streaming else response.content
    return Answer(
        status=response.status_code, path=response.request["PATH_INFO"], text=text.decode(errors="replace")
    )


def _json(sent: dict[str, Any]) -> str:
    return json.dumps(sent, default=str) if sent else ""


@dataclass(frozen=True, kw_only=True)
class Address:
    """One address of the URL configuration; `methods` where the view says which it takes."""

    name: str
    pattern: str
    methods: tuple[str, ...] | None
    view: Any


def addresses(below: tuple[str, ...] = ()) -> Iterator[Address]:
    """All that the URL configuration serves, or only what begins with one of these."""
    for address in _walk(get_resolver().url_patterns, "", ""):
        if not below or address.pattern.startswith(below):
            yield address


def _walk(patterns: list[URLPattern | URLResolver], before: str, space: str) -> Iterator[Address]:
    for each in patterns:
        path = before + str(each.pattern)
        if isinstance(each, URLResolver):
            inner = f"{space}{each.namespace}:" if each.namespace else space
            yield from _walk(each.url_patterns, path, inner)
        else:
            actions = getattr(each.callback, "actions", None)
            methods = tuple(method.upper() for method in actions if method != "head") if actions else None
            yield Address(
                name=f"{space}{each.name or path}", pattern=path, methods=methods, view=each.callback
            )
