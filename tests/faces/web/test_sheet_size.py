"""The week sheet of forty pieces of equipment: what it asks, and what it weighs."""

from __future__ import annotations

import gzip
from collections.abc import Callable

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from studios.models import Equipment, Person
from tests.busy_week import busy_week
from tests.faces.web.bookings import WEEK
from tests.faces.web.conftest import Visit
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
QUERIES, BYTES = 12, 120_000


@pytest.mark.parametrize(("who", "times"), [("manager", 1), ("student", 1), ("manager", 10)])
def test_a_full_week_of_forty_pieces_is_twelve_queries_whatever_is_booked(
    town: Town, visit: Visits, times: int, who: str
) -> None:
    held = busy_week(town, times)
    visitor = visit(town.people[who])

    with CaptureQueriesContext(connection) as asked:
        response = visitor.client.get("/", {"week": WEEK})

    assert Equipment.objects.count() == 40
    assert response.content.count(b'class="held') > 0
    assert len(asked) <= QUERIES, [each["sql"][:120] for each in asked]
    assert held >= 800 * times


def test_a_full_week_of_forty_pieces_with_its_drawing_weighs_at_most_120_kb(
    town: Town, visit: Visits
) -> None:
    busy_week(town)

    page = visit(town.manager).client.get("/", {"week": WEEK}).content

    assert page.count(b"<svg") > 20
    assert len(gzip.compress(page)) <= BYTES
