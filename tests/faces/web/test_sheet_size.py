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


@pytest.mark.parametrize("who", ["manager", "student"])
@pytest.mark.parametrize("extent", [{"days": 1}, {"days": 5, "times": 2}], ids=["few", "ten times as many"])
def test_a_week_of_forty_pieces_is_twelve_queries_whatever_is_booked(
    town: Town, visit: Visits, who: str, extent: dict[str, int]
) -> None:
    held = busy_week(town, **extent)
    visitor = visit(town.people[who])

    with CaptureQueriesContext(connection) as asked:
        response = visitor.client.get("/", {"week": WEEK})

    assert Equipment.objects.count() == 40
    assert held == {1: 115, 5: 1150}[extent["days"]]
    assert response.content.count(b'class="held"') > 0.9 * held
    assert len(asked) <= QUERIES, [each["sql"][:120] for each in asked]


def test_a_full_week_of_forty_pieces_with_its_drawing_weighs_at_most_120_kb(
    town: Town, visit: Visits
) -> None:
    busy_week(town)

    page = visit(town.manager).client.get("/", {"week": WEEK}).content

    assert page.count(b"<svg") > 20
    assert len(gzip.compress(page)) <= BYTES
