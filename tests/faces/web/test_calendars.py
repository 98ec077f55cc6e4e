"""Secret calendar links: made, copied, withdrawn."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import FeedKey
from studios.models import Person
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_a_link_is_made_and_its_address_is_shown_in_full(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    page = visitor.post("/calendars", label="my phone")

    key = FeedKey.objects.get(person=town.student)
    assert page.all("input", class_="address", value=f"http://testserver/calendars/{key.key}.ics")
    assert "my phone" in page.words


def test_a_link_without_a_name_is_refused_beside_the_field(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)

    page = visitor.post("/calendars", label="  ")

    assert visitor.status == 400
    assert page.all("div", class_="error", id="id_label_error")
    assert not FeedKey.objects.exists()


def test_a_withdrawn_link_is_shown_no_more(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    visitor.post("/calendars", label="my phone")
    key = FeedKey.objects.get()

    page = visitor.post(f"/calendar-links/{key.uid}/withdraw")

    key.refresh_from_db()
    assert key.revoked_at is not None
    assert key.key not in str(page.elements)


def test_nobody_sees_or_withdraws_anothers_link(town: Town, visit: Visits) -> None:
    visit(town.student).post("/calendars", label="my phone")
    key = FeedKey.objects.get()
    other = visit(town.other_student)

    page = other.get("/calendars")
    other.post(f"/calendar-links/{key.uid}/withdraw")

    assert key.key not in str(page.elements)
    assert other.status == 404
    key.refresh_from_db()
    assert key.revoked_at is None


def test_the_week_is_offered_as_a_file(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        page = visit(town.student).get("/calendars")

    assert page.all("a", href="/calendars/week/2031-W10.ics")
    assert "Week 10: 3 to 9 March, this week Week 11: 10 to 16 March, next week" in page.words
    assert "Week 13: 24 to 30 March" in page.words
