"""Secret calendar links: made, copied, withdrawn."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine

from scheduling.models import FeedKey
from studios.models import Person, Term
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


def test_a_link_is_made_to_what_happens_at_a_studio(town: Town, visit: Visits) -> None:
    page = visit(town.technician).post(
        "/calendars", label="door", about="studio:hot-shop", shows=["class", "outage"], alarm="none"
    )

    key = FeedKey.objects.get()
    assert (key.about, key.studio, key.equipment) == ("studio", town.hot_shop, None)
    assert (key.shows, key.alarm_min) == (["class", "outage"], None)
    assert "About Hot shop; only classes, outages." in page.words


def test_a_link_is_made_to_duties_with_an_alarm(town: Town, visit: Visits) -> None:
    page = visit(town.technician).post("/calendars", label="bell", about="duties:flame", alarm="60")

    key = FeedKey.objects.get()
    assert (key.about, key.studio, key.alarm_min) == ("duties", town.flame, 60)
    assert "About duties at Flame; a duty rings 1 h before." in page.words


def test_a_link_is_made_to_one_kiln(town: Town, visit: Visits) -> None:
    kiln = town.equipment["kiln"]
    page = visit(town.student).post("/calendars", label="kiln", about=f"equipment:{kiln.uid}")
    assert FeedKey.objects.get().equipment == kiln
    assert "About kiln at Flame." in page.words


def test_what_one_may_follow_is_offered_and_nothing_else(town: Town, visit: Visits) -> None:
    """A student sees the sheet, and is not told whom the technicians fire for."""
    technician, student, stranger = (
        {option["value"] for option in visit(person).get("/calendars").all("option")}
        for person in (town.technician, town.student, town.stranger)
    )

    kiln = f"equipment:{town.equipment['kiln'].uid}"
    assert {"person", "studio:flame", "duties:flame", kiln} <= technician
    assert {"person", "studio:flame", kiln} <= student
    assert "duties:flame" not in student
    assert not {value for value in stranger if ":" in value}


@pytest.mark.parametrize(
    ("field", "sent"),
    [
        ("about", {"about": "duties:flame"}),
        ("about", {"about": "studio:nowhere"}),
        ("about", {"about": "equipment:7"}),
        ("shows", {"shows": ["charge"]}),
        ("shows", {"shows": ["cloud"]}),
        ("alarm", {"alarm": "soon"}),
    ],
)
def test_what_cannot_be_had_is_refused_beside_its_field(
    town: Town, visit: Visits, field: str, sent: dict[str, object]
) -> None:
    visitor = visit(town.student)

    page = visitor.post("/calendars", label="phone", **sent)

    assert visitor.status == 400
    assert page.all("div", class_="error", id=f"id_{field}_error")
    assert not FeedKey.objects.exists()


def test_a_link_whose_owner_has_lost_the_role_says_so(town: Town, visit: Visits) -> None:
    visitor = visit(town.technician)
    visitor.post("/calendars", label="bell", about="duties:flame")
    town.technician.memberships.filter(studio=town.flame).delete()

    page = visitor.get("/calendars")

    assert "You have no role there any more: the link shows nothing." in page.words


def test_the_day_of_last_use_is_shown(town: Town, visit: Visits) -> None:
    visitor = visit(town.student)
    visitor.post("/calendars", label="my phone")
    key = FeedKey.objects.get()
    before = visitor.get("/calendars").words
    with time_machine.travel(local(0, 9), tick=False):
        visit(None).client.get(f"/calendars/{key.key}.json")

    assert "Never read yet." in before
    assert "Last read 3 Mar 2031." in visitor.get("/calendars").words


def test_months_and_terms_are_offered_as_files(town: Town, visit: Visits) -> None:
    spring = Term.objects.create(
        studio=town.flame, name="Spring", first_day=local(0, 9).date(), last_day=local(70, 9).date()
    )
    Term.objects.create(
        studio=town.flame, name="Winter", first_day=local(-70, 9).date(), last_day=local(-1, 9).date()
    )

    with time_machine.travel(local(0, 9), tick=False):
        visitor = visit(town.student)
        page = visitor.get("/calendars")
        term = visitor.client.get(f"/calendars/term/flame/{spring.pk}.ics")
        other = visitor.client.get(f"/calendars/term/hot-shop/{spring.pk}.ics")

    assert page.all("a", href="/calendars/month/2031-05.ics")
    assert page.all("a", href=f"/calendars/term/flame/{spring.pk}.ics")
    assert "Winter" not in page.words
    assert term["Content-Disposition"] == 'attachment; filename="lehrbook-flame-2031-03-03.ics"'
    assert other.status_code == 404


def test_the_week_is_offered_as_a_file(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        page = visit(town.student).get("/calendars")

    assert page.all("a", href="/calendars/week/2031-W10.ics")
    assert "Week 10: 3 to 9 March, this week Week 11: 10 to 16 March, next week" in page.words
    assert "Week 13: 24 to 30 March" in page.words
