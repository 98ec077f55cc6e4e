"""The manager's page of who did what, and the same as a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import pytest
import time_machine

from scheduling.models import AuditEntry
from scheduling.services import audit
from scheduling.services.cancelling import cancel_session
from scheduling.web.views.audit import ON_A_PAGE
from studios.models import Person
from tests.faces.web.bookings import a_class
from tests.faces.web.conftest import Visit
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
LINE = "blowing at Hot shop, Tue 4 Mar 2031, 18:00 CST"


def noted(town: Town, times: int, day: int = 0) -> None:
    """Entries of one person, a minute apart."""
    for number in range(times):
        with time_machine.travel(local(day, 9, number), tick=False):
            audit.note(
                actor=None, did="lapse", subject=town.student, studio=town.hot_shop, said=f"Seat {number}"
            )


def test_a_manager_reads_who_did_what_from_where_with_the_newest_first(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        session = a_class(town)
    with time_machine.travel(local(0, 10), tick=False):
        visit(town.manager).post(f"/sessions/{session.uid}/call-off")

    page = visit(town.manager).get("/audit", studio="hot-shop")

    newest, oldest = page.words.index("call off Manager page"), page.words.index("book Instructor command")
    assert newest < oldest
    assert f"{LINE} call off Manager page Mon 3 Mar, 10:00 2031" in page.words
    assert "Times by the clocks of America/Chicago." in page.words
    assert page.all("a", href=f"/sessions/{session.uid}")
    assert page.all("a", href="/audit", aria_current="page")


def test_what_a_deadline_did_was_done_by_nobody(town: Town, visit: Visits) -> None:
    noted(town, 1)

    page = visit(town.manager).get("/audit", studio="hot-shop")

    assert "Seat 0 lapse nobody: its time came command" in page.words


def test_one_studio_at_a_time(town: Town, visit: Visits) -> None:
    a_class(town, "beads")
    manager = visit(town.manager)

    assert "beads at Flame" in manager.get("/audit", studio="flame").words
    assert "beads at Flame" not in manager.get("/audit", studio="hot-shop").words
    assert "Nothing was done." in manager.get("/audit", studio="hot-shop").words
    manager.get("/audit", studio="elsewhere")
    assert manager.status == 404


def test_a_day_is_the_studio_s_and_has_23_hours_when_the_clocks_go_forward(town: Town, visit: Visits) -> None:
    for day, hour in ((5, 23), (6, 0), (6, 23), (7, 0)):
        with time_machine.travel(local(day, hour, 30), tick=False):
            audit.note(
                actor=None,
                did="try",
                subject=town.student,
                studio=town.flame,
                said=f"Done on {day} at {hour}",
            )
    manager = visit(town.manager)

    page = manager.get("/audit", studio="flame", day="2031-03-09")

    assert "2 entries" in page.words
    assert "Done on 6 at 0" in page.words
    assert "Done on 6 at 23" in page.words


def test_by_what_it_was_done_to(town: Town, visit: Visits) -> None:
    first, second = a_class(town), a_class(town, starts_at=local(3, 18))
    noted(town, 1)
    cancel_session(actor=town.instructor, session=second)
    manager = visit(town.manager)

    assert "3 entries" in manager.get("/audit", studio="hot-shop", kind="session").words
    assert "2 entries" in manager.get("/audit", studio="hot-shop", of=str(second.uid)).words
    assert "1 entry" in manager.get("/audit", studio="hot-shop", of=str(first.uid)).words


def test_a_class_leads_its_manager_to_its_history_and_nobody_else(town: Town, visit: Visits) -> None:
    session = a_class(town)
    way = {"href": f"/audit?studio=hot-shop&of={session.uid}"}

    assert visit(town.manager).get(f"/sessions/{session.uid}").all("a", **way)
    for person in (town.instructor, town.student):
        page = visit(person).get(f"/sessions/{session.uid}")
        assert not page.all("a", **way)
        assert not page.all("a", href="/audit")


def test_it_comes_in_pages_that_keep_what_was_asked(town: Town, visit: Visits) -> None:
    noted(town, ON_A_PAGE + 3)
    manager = visit(town.manager)

    first = manager.get("/audit", studio="hot-shop", kind="person")
    second = manager.get("/audit", studio="hot-shop", kind="person", page=2)

    assert first.all("a", rel="next", href="?studio=hot-shop&kind=person&page=2")
    assert second.all("a", rel="prev", href="?studio=hot-shop&kind=person&page=1")
    assert f"Seat {ON_A_PAGE + 2}" in first.words
    assert "Seat 2 " in second.words
    assert f"Seat {ON_A_PAGE}" not in second.words


@pytest.mark.parametrize(
    "odd",
    [{"day": "yesterday"}, {"day": "9999-12-31"}, {"kind": "x"}, {"of": "x"}, {"page": "x"}, {"of": "\0"}],
)
def test_odd_questions_are_answered_with_what_is_wrong(town: Town, visit: Visits, odd: Any) -> None:
    a_class(town)
    manager = visit(town.manager)

    page = manager.get("/audit", studio="hot-shop", **odd)

    assert manager.status == (200 if "page" in odd else 400)
    assert (LINE in page.words) == ("page" in odd)
    if "page" not in odd:
        assert manager.client.get("/audit.csv", {"studio": "hot-shop", **odd}).status_code == 404


def test_the_file_has_all_pages_of_what_was_asked(town: Town, visit: Visits) -> None:
    with time_machine.travel(local(0, 9), tick=False):
        session = a_class(town)
    noted(town, ON_A_PAGE + 3)
    client = visit(town.manager).client

    everything = rows(client.get("/audit.csv", {"studio": "hot-shop"}))
    one = rows(client.get("/audit.csv", {"studio": "hot-shop", "of": str(session.uid)}))

    assert len(everything) == 1 + ON_A_PAGE + 4
    assert one == [
        ["at", "who", "from", "did", "kind", "subject", "what"],
        [
            "2031-03-03T09:00:00-06:00",
            "Instructor",
            "command",
            "book",
            "session",
            str(session.uid),
            LINE,
        ],
    ]


def rows(response: Any) -> list[list[str]]:
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    return list(csv.reader(io.StringIO(b"".join(response).decode())))


def test_no_name_is_a_formula_in_a_spreadsheet(town: Town, visit: Visits) -> None:
    Person.objects.filter(pk=town.instructor.pk).update(name="=1+1")
    a_class(town)

    found = rows(visit(town.manager).client.get("/audit.csv", {"studio": "hot-shop"}))

    assert found[1][1] == "'=1+1"
    assert AuditEntry.objects.get().actor == town.instructor
