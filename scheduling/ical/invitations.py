"""What an invitation by mail carries (RFC 5546): the same event as in the calendar, and whom it concerns."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from enum import StrEnum
from urllib.parse import quote

from scheduling.ical.components import Component, Property, ValueType, text
from scheduling.ical.event import CalendarEvent, Link, Party
from scheduling.ical.text_form import written
from scheduling.ical.vevent import vevent
from scheduling.ical.weekly import laid_out
from scheduling.ical.writer import product, zone_rules


class Method(StrEnum):
    """What is asked of whoever gets it: to take it into their calendar, or to take it out."""

    REQUEST = "REQUEST"
    CANCEL = "CANCEL"


# Who booked has said yes, and nobody waits for an answer.
ANSWERED = (("role", "REQ-PARTICIPANT"), ("partstat", "ACCEPTED"), ("rsvp", "FALSE"))
# What an address for mail may hold as it is (RFC 6068).
AS_IT_IS = "@!$'*+-._~"


def invitation(
    event: CalendarEvent,
    method: Method | str,
    organizer: Party,
    attendee: Party,
    *,
    others: Iterable[CalendarEvent] = (),
    link: Link | None = None,
) -> str:
    """The text of an invitation, or of its withdrawal, to one person.

    `others` are the meetings of a series that stand for planned ones: they go with it. A single meeting of a
    series goes alone, as an event that stands for its planned start.
    """
    method = Method(method)
    parties = _party("organizer", organizer), _party("attendee", attendee, *ANSWERED)
    told = [_told(each, method) for each in laid_out([event, *others])]
    events = (written(vevent(each, link(each) if link and each.page else "", parties)) for each in told)
    begin, end = written(Component("vcalendar", (*product(), text("method", method.value)))).split(b"END:", 1)
    return b"".join((begin, *zone_rules(told), *events, b"END:", end)).decode()


def _told(event: CalendarEvent, method: Method) -> CalendarEvent:
    """When to ring is for the person's own calendar to say."""
    return replace(event, alarm_min=None, cancelled=event.cancelled or method is Method.CANCEL)


def _party(name: str, party: Party, *params: tuple[str, str]) -> Property:
    address = f"mailto:{quote(party.email, safe=AS_IT_IS)}"
    return Property(name, ValueType.CAL_ADDRESS, (address,), (("cn", party.name), *params))
