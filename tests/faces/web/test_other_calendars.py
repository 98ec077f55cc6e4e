"""The page of other calendars: given by link or as a file, looked at, taken away; without JavaScript."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile

from scheduling.models import BusySpan, OtherCalendar
from scheduling.services import reading_calendars
from scheduling.services.reading_calendars import read_due
from studios.models import Membership, Person
from tests.faces.web.conftest import Visit
from tests.services.other_calendars import LINK, Elsewhere, by_link, calendar, event
from tests.services.test_booking import book
from tests.worlds import Town, local

pytestmark = pytest.mark.django_db
Visits = Callable[[Person | None], Visit]
TUESDAY_EVENING = event(local(1, 18), local(1, 20))
BROKEN = calendar(TUESDAY_EVENING.replace("DTSTAMP", "X-STAMP"))


@pytest.fixture(autouse=True)
def monday() -> Iterator[None]:
    with time_machine.travel(local(0, 9), tick=False):
        yield


def ics(content: bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile("home.ics", content, "text/calendar")


def test_the_way_there_is_shown_to_those_who_teach(town: Town, visit: Visits) -> None:
    assert visit(town.instructor).get("/calendars").all("a", href="/other-calendars")

    student = visit(town.student)
    assert not student.get("/calendars").all("a", href="/other-calendars")
    student.get("/other-calendars")
    assert student.status == 403


def test_a_file_is_read_at_once(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/file", label="home", file=ics(calendar(TUESDAY_EVENING)))

    assert (visitor.status, visitor.last) == (200, "/other-calendars")
    assert "home is read. Its hours are kept free of classes." in page.words
    assert "From a file. It takes 2 h of the next four weeks." in page.words
    assert "Last read Mon 3 Mar, 09:00. Next reading Tue 4 Mar, 09:00." in page.words
    assert "A tooth" not in page.words


def test_a_broken_file_is_refused_beside_the_field_with_its_line(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/file", label="home", file=ics(BROKEN))

    assert visitor.status == 400
    assert page.all("div", class_="error", id="file_file_error")
    assert "Line 4: VEVENT has no DTSTAMP." in page.words
    assert page.all("input", id="file_label", value="home")
    assert not page.all("input", id="link_label", value="home")
    assert not OtherCalendar.objects.exists()


@pytest.mark.parametrize(
    ("sent", "error"),
    [
        ({"label": "home"}, "Choose a file."),
        ({"label": "home", "file": ics(b"")}, "The file is empty; a calendar begins with BEGIN:VCALENDAR."),
        ({"label": "home", "file": ics(b"x" * (5 * 1024 * 1024 + 1))}, "A calendar may have at most 5 MB."),
        ({"label": " ", "file": ics(calendar())}, "Give it a name."),
    ],
)
def test_what_is_no_file_of_a_calendar(
    town: Town, visit: Visits, sent: dict[str, object], error: str
) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/file", **sent)

    assert visitor.status == 400
    assert error in page.words


def test_a_link_is_kept_and_only_its_host_is_shown_again(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/link", label="home", link=LINK)

    assert "It is fetched within a minute or two." in page.words
    assert "Fetched from calendars.example. Not read yet." in page.words
    assert "Next reading in a minute or two." in page.words
    assert "secret-3f9c" not in str(page.elements) + page.words


def test_a_link_that_can_be_none_is_refused_beside_the_field(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/link", label="home", link="file:///etc/passwd")

    assert visitor.status == 400
    assert page.all("div", class_="error", id="link_link_error")
    assert "a link begins with https://" in page.words


def test_what_went_wrong_is_shown_and_that_the_last_copy_stays(
    town: Town, visit: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    server = Elsewhere()
    monkeypatch.setattr(reading_calendars, "fetch", server.fetch)
    server.says_bytes(BROKEN)
    given = by_link(town.instructor)
    read_due()
    visitor = visit(town.instructor)

    unread = visitor.get("/other-calendars")
    visitor.post(f"/other-calendars/{given.uid}/read")
    server.says(TUESDAY_EVENING)
    read_due()
    visitor.post(f"/other-calendars/{given.uid}/read")
    server.is_away()
    read_due()
    stale = visitor.get("/other-calendars")

    assert "Line 4: VEVENT has no DTSTAMP. Nothing is known of it until it can be read." in unread.words
    assert "there is no server calendars.example. What was read last stays in force." in stale.words
    assert "It takes 2 h of the next four weeks." in stale.words


def test_the_classes_that_it_meets_are_listed_with_the_way_to_them(town: Town, visit: Visits) -> None:
    session = book(town, "beads", local(1, 18))
    visitor = visit(town.instructor)

    page = visitor.post("/other-calendars/file", label="home", file=ics(calendar(TUESDAY_EVENING)))

    assert page.all("a", href=f"/sessions/{session.uid}")
    assert "Tue 4 Mar, 18:00beads at Flame" in page.words
    assert "They stand" in page.words
    assert not page.all("details", class_="month")


def test_of_many_classes_the_first_are_shown_and_the_rest_is_folded(town: Town, visit: Visits) -> None:
    for day in range(1, 8):
        book(town, "beads", local(day, 18))
    daily = calendar(event(local(1, 18), local(1, 20), "RRULE:FREQ=DAILY"))

    page = visit(town.instructor).post("/other-calendars/file", label="home", file=ics(daily))

    assert page.all("details", class_="month")
    assert "2 more" in page.words
    assert len([each for each in page.all("a") if each["href"].startswith("/sessions/")]) == 7


def test_a_calendar_is_taken_away(town: Town, visit: Visits) -> None:
    visitor = visit(town.instructor)
    visitor.post("/other-calendars/file", label="home", file=ics(calendar(TUESDAY_EVENING)))
    given = OtherCalendar.objects.get()

    page = visitor.post(f"/other-calendars/{given.uid}/remove")

    assert "home is taken away, and its hours are free again." in page.words
    assert not BusySpan.objects.exists()


def test_whoever_no_longer_teaches_takes_away_what_is_left(town: Town, visit: Visits) -> None:
    given = by_link(town.instructor)
    Membership.objects.filter(person=town.instructor).delete()
    visitor = visit(town.instructor)
    assert "Fetched from calendars.example" in visitor.get("/other-calendars").words

    visitor.post(f"/other-calendars/{given.uid}/remove")

    assert (visitor.status, visitor.last) == (200, "/calendars")


def test_nobody_touches_anothers_calendar(town: Town, visit: Visits) -> None:
    given = by_link(town.instructor)
    other = visit(town.other_instructor)

    for act in ("read", "remove"):
        other.post(f"/other-calendars/{given.uid}/{act}")
        assert other.status == 404
    assert "calendars.example" not in other.get("/other-calendars").words
