"""Every role at the own and at another studio, and somebody not signed in, at every address there is."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.core.cache import cache
from django.db import transaction
from django.test import Client
from django.urls import reverse

from studios.models import Person, Role
from studios.permissions import ACTIONS
from tests.faces.permissions import api, pages
from tests.faces.permissions.cast import MONDAY_NINE, STUDIOS, Cast
from tests.faces.permissions.table import ANYBODY, SIGNED_IN, Address, Row, addresses, tried
from tests.worlds import Town

pytestmark = pytest.mark.django_db
ROWS = [*pages.ROWS, *api.ROWS]
# The description has two addresses, and what is nowhere is said to everybody.
SAME = {"api:api/schema/": "api:schema"}
NOWHERE = "api:nowhere"


@pytest.fixture
def cast(town: Town) -> Iterator[Cast]:
    with time_machine.travel(MONDAY_NINE, tick=False):
        yield Cast(town=town)


def cells(row: Row) -> Iterator[tuple[str | None, str, bool]]:
    """Who tries, at which studio their role is, and what the table says."""
    yield None, "", row.allows(None, here=False)
    for role in Role.values:
        for slug in STUDIOS:
            yield role, slug, row.allows(role, here=slug == row.at)


@pytest.mark.parametrize("row", ROWS, ids=str)
def test_who_may_does_and_who_may_not_is_refused(cast: Cast, row: Row) -> None:
    wrong = []
    for role, slug, allowed in cells(row):
        person = cast.tries[role, slug] if role else None
        found = in_passing(row, cast, person)
        if found != allowed:
            wrong.append((role or "nobody", slug, f"table: {allowed}", f"found: {found}"))

    assert wrong == []


def in_passing(row: Row, cast: Cast, person: Person | None) -> bool:
    """A try that leaves nothing behind: the next one finds the town as it was."""
    cache.clear()
    with transaction.atomic():
        found = tried(row, Cast(town=cast.town), person)
        transaction.set_rollback(True)
    return found


def test_every_action_of_the_table_of_roles_is_tried() -> None:
    named = {action for row in ROWS for action in row.by} - {ANYBODY, SIGNED_IN}

    assert named == set(ACTIONS)


def places() -> list[Address]:
    """All that is served but the admin, which has a table of its own."""
    return [address for address in addresses() if not address.pattern.startswith("admin/")]


def test_every_address_has_its_rows_and_every_row_an_address() -> None:
    names = {SAME.get(address.name, address.name) for address in places()} - {NOWHERE}

    assert {row.name for row in ROWS} == names


def test_every_method_of_an_endpoint_has_its_row() -> None:
    wanted = {(each.name, method) for each in places() for method in each.methods or ()}
    rows = {(row.name, row.method) for row in api.ROWS}

    assert wanted <= rows
    assert {name for name, _ in rows - wanted} == {"api:schema", "api:docs"}  # pages of a library, GET only


@pytest.mark.parametrize("method", ["GET", "POST"])
@pytest.mark.parametrize("name", sorted({row.name for row in pages.ROWS}))
def test_a_page_answers_to_the_methods_that_have_a_row(cast: Cast, name: str, method: str) -> None:
    rows = [row for row in pages.ROWS if row.name == name]
    client = Client()
    client.force_login(Person.objects.create_superuser("owner@town.example", "glass", name="Owner"))

    answer = client.generic(method, reverse(name, kwargs=rows[0].made(cast, cast.seated)))

    assert (answer.status_code != 405) == (method in {row.method for row in rows})


def test_what_is_nowhere_is_nowhere_for_everybody(cast: Cast) -> None:
    for person in (None, cast.tries["manager", "flame"]):
        client = Client()
        if person:
            client.force_login(person)
        assert client.get("/api/nothing-here/").status_code == 404
