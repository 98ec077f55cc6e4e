"""Invitations by mail (RFC 5546): the same event, who asks, who is asked, and which meeting it is about."""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import icalendar
import pytest
import vobject

from scheduling.ical.event import CalendarEvent, Party, Weekly
from scheduling.ical.invitations import invitation
from tests.faces.feeds.readers import READERS
from tests.faces.feeds.samples import Reader, event, lines, local, seen

STUDIO = Party(name='The "Quillback"; hot, shop ^ Žluť', email="hot.shop+bookings@quillback.example")
VERA = Party(name="Vera Önnest", email="vera@example.test")
CHICAGO = "America/Chicago"
BLOWING = event(opaque=True, alarm_min=30)
BEADS = event(
    uid="beads",
    opaque=True,
    starts_at=local("2027-03-02T18:00", CHICAGO),
    ends_at=local("2027-03-02T21:00", CHICAGO),
    weekly=Weekly(until=local("2027-03-30T18:00", CHICAGO)),
)
SECOND = local("2027-03-09T18:00", CHICAGO)
MOVED = dataclasses.replace(
    BEADS,
    weekly=None,
    stands_for=SECOND,
    starts_at=SECOND + dt.timedelta(hours=1),
    ends_at=SECOND + dt.timedelta(hours=3),
    sequence=5,
)


def sent(event: CalendarEvent, method: str = "REQUEST") -> bytes:
    return invitation(event, method, STUDIO, VERA).encode()


def read(content: bytes) -> tuple[icalendar.Calendar, Any]:
    """The calendar and its only event; both readers must find no fault in it."""
    calendar = icalendar.Calendar.from_ical(content)
    assert [component.errors for component in calendar.walk() if component.errors] == []
    assert vobject.readOne(content.decode()).validate(raiseException=True)
    (component,) = calendar.walk("VEVENT")
    return calendar, component


def test_a_request_names_who_asks_and_who_is_asked() -> None:
    calendar, found = read(sent(BLOWING))

    assert calendar["method"] == "REQUEST"
    organizer, attendee = found["organizer"], found["attendee"]
    assert (str(organizer), organizer.params["CN"]) == (f"mailto:{STUDIO.email}", STUDIO.name)
    assert (str(attendee), attendee.params["CN"]) == (f"mailto:{VERA.email}", VERA.name)
    assert dict(attendee.params) == {
        "CN": VERA.name,
        "ROLE": "REQ-PARTICIPANT",
        "PARTSTAT": "ACCEPTED",
        "RSVP": "FALSE",
    }


@pytest.mark.parametrize("reader", READERS)
def test_a_request_carries_the_event_of_the_calendar(reader: Reader) -> None:
    assert reader(sent(BLOWING)) == [seen(BLOWING)]
    _, found = read(sent(BLOWING))
    assert (found["uid"], found["sequence"], found["status"]) == (BLOWING.uid, 2, "CONFIRMED")
    assert found["dtstamp"].dt == BLOWING.changed_at


def test_a_withdrawal_takes_the_same_event_back() -> None:
    calendar, found = read(sent(dataclasses.replace(BLOWING, sequence=3), "CANCEL"))

    assert calendar["method"] == "CANCEL"
    assert (found["uid"], found["sequence"], found["status"]) == (BLOWING.uid, 3, "CANCELLED")
    assert found["transp"] == "TRANSPARENT"


@pytest.mark.parametrize(("method", "status"), [("REQUEST", "CONFIRMED"), ("CANCEL", "CANCELLED")])
def test_one_meeting_of_a_series_is_named_by_when_it_was_planned(method: str, status: str) -> None:
    _, found = read(sent(MOVED, method))

    assert found["recurrence-id"].dt == SECOND
    assert found["recurrence-id"].params["TZID"] == CHICAGO
    assert "rrule" not in found
    assert (found["uid"], found["sequence"], found["status"]) == ("beads", 5, status)


def test_a_whole_series_goes_with_the_meetings_that_are_not_as_planned() -> None:
    content = invitation(BEADS, "REQUEST", STUDIO, VERA, others=[MOVED])

    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert [str(each["uid"]) for each in events] == ["beads", "beads"]
    assert ["rrule" in each for each in events] == [True, False]
    assert all("attendee" in each and "organizer" in each for each in events)


def test_nothing_rings_in_somebody_elses_calendar() -> None:
    assert "BEGIN:VALARM" not in lines(sent(BLOWING))


def test_the_page_is_given_where_it_is_known() -> None:
    text = invitation(BLOWING, "REQUEST", STUDIO, VERA, link=lambda each: f"https://lehrbook.test/{each.uid}")
    assert f"URL:https://lehrbook.test/{BLOWING.uid}" in lines(text.encode())


@pytest.mark.parametrize(
    ("email", "written"),
    [
        ("o'brien+glass@example.test", "mailto:o'brien+glass@example.test"),
        ("a,b;c@example.test", "mailto:a%2Cb%3Bc@example.test"),
        ("žluť@example.test", "mailto:%C5%BElu%C5%A5@example.test"),
    ],
)
def test_an_address_stays_one_address(email: str, written: str) -> None:
    text = invitation(BLOWING, "REQUEST", STUDIO, Party(name="V", email=email))
    (attendee,) = (line for line in lines(text.encode()) if line.startswith("ATTENDEE"))
    assert attendee.endswith(f":{written}")


@pytest.mark.parametrize(
    "name", ["Two\nlines", "tab\there", "colon: here", "", "^n is no line end", 'say "yes"']
)
def test_a_name_comes_back_as_it_went_out(name: str) -> None:
    content = invitation(BLOWING, "REQUEST", Party(name=name, email="a@example.test"), VERA).encode()
    _, found = read(content)
    assert found["organizer"].params.get("CN", "") == name


def test_another_method_is_none() -> None:
    with pytest.raises(ValueError, match="PUBLISH"):
        invitation(BLOWING, "PUBLISH", STUDIO, VERA)
