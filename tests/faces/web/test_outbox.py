"""The manager's page of what waits, what failed and what went out."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from scheduling.models import Message
from scheduling.services.rounds import make_rounds
from studios.models import Person
from tests.faces.web.conftest import Visit
from tests.services.test_outbox import failed, told
from tests.worlds import Town

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]


def test_a_manager_reads_what_failed_with_its_reason_and_never_what_was_said(
    town: Town, visit: Visits
) -> None:
    failed(town.student, "Your seat")
    told(town.instructor, "Booked: beads")

    page = visit(town.manager).get("/outbox")

    assert "Your seat" in page.words
    assert "Student, student@town.example OSError: away 3" in page.words
    assert "Booked: beads" in page.words
    assert "between us" not in page.words
    assert page.all("a", href="/outbox", aria_current="page")
    assert "It has never been gone through: is a worker running?" in page.words


def test_it_says_what_goes_into_a_calendar_or_out_of_it(town: Town, visit: Visits) -> None:
    told(town.student, "Reserved: beads", method="REQUEST", invitation="BEGIN:VCALENDAR")
    told(town.student, "Called off: beads", method="CANCEL", invitation="BEGIN:VCALENDAR")
    told(town.student, "Firing moved")

    page = visit(town.manager).get("/outbox")

    assert "Reserved: beads with an entry for their calendar Student" in page.words
    assert "Called off: beads takes it out of their calendar Student" in page.words
    assert "Firing moved Student" in page.words
    assert "VCALENDAR" not in page.words


def test_one_message_is_tried_again_and_then_stands_among_the_sent(town: Town, visit: Visits) -> None:
    message, manager = failed(town.student), visit(town.manager)

    page = manager.post(f"/outbox/{message.uid}/try-again")
    assert "“Your seat” is tried again now." in page.words
    make_rounds()

    page = manager.get("/outbox")
    assert "Nothing has failed." in page.words
    assert "Last gone through" in page.words
    assert not page.all("form", action=f"/outbox/{message.uid}/try-again")
    page = manager.post(f"/outbox/{message.uid}/try-again")
    assert "This message has been sent." in page.words


def test_all_are_tried_again_with_one_button(town: Town, visit: Visits) -> None:
    failed(town.student)
    failed(town.instructor)
    failed(town.stranger)

    page = visit(town.manager).post("/outbox/try-again")

    assert "2 messages tried again now." in page.words
    make_rounds()
    assert Message.objects.filter(sent_at__isnull=True).get().person == town.stranger


@pytest.mark.parametrize("who", ["student", "instructor", "technician", "stranger"])
def test_nobody_else_finds_the_way_there(town: Town, visit: Visits, who: str) -> None:
    message, visitor = failed(town.student), visit(getattr(town, who))

    assert not visitor.get("/cautions").all("a", href="/outbox")
    assert "needs the role manager" in visitor.get("/outbox").words
    assert visitor.status == 403
    for path in (f"/outbox/{message.uid}/try-again", "/outbox/try-again"):
        visitor.post(path)
        assert visitor.status == 403


def test_a_strangers_message_is_not_there_for_a_manager(town: Town, visit: Visits) -> None:
    message, manager = failed(town.stranger), visit(town.manager)

    manager.post(f"/outbox/{message.uid}/try-again")

    assert manager.status == 404
    message.refresh_from_db()
    assert message.sent_at is None
