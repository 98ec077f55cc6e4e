"""What a person's calendar program makes of the mails it gets: read apart, and applied (RFC 5546)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

import icalendar
import recurring_ical_events
import vobject

from scheduling.ical.event import CalendarFile, EventKind
from scheduling.ical.writer import calendar_bytes
from scheduling.models import Message
from scheduling.selectors.calendar import events_of
from scheduling.services.mail import mail_of
from studios.models import Person
from tests.worlds import local

# What takes place, as a person sees it: which event, from when to when.
Seen = tuple[str, dt.datetime, dt.datetime]
Key = tuple[str, dt.datetime | None]


@dataclass(frozen=True, kw_only=True)
class Told:
    """One event of an invitation, and whom it concerns."""

    method: str
    uid: str
    sequence: int
    stands_for: dt.datetime | None
    status: str
    starts_at: dt.datetime
    ends_at: dt.datetime
    stamp: dt.datetime
    weekly: bool
    organizer: str
    attendees: tuple[str, ...]


def parsed(message: Message) -> EmailMessage:
    """The mail of a message, as it comes out at the other end."""
    sent: Any = mail_of(message).message()
    return message_from_bytes(sent.as_bytes(linesep="\r\n"), policy=policy.default)


def calendar_parts(message: Message) -> list[EmailMessage]:
    """The parts of a mail that a calendar program reads."""
    return [part for part in parsed(message).walk() if part.get_content_type() == "text/calendar"]


def told_by(message: Message) -> list[Told]:
    """All that a message tells a calendar; two readers that know nothing of each other say the same."""
    texts = [part.get_content() for part in calendar_parts(message)]
    by_one = [told for text in texts for told in _by_icalendar(text)]
    assert by_one == [told for text in texts for told in _by_vobject(text)]
    assert {told.method for told in by_one} <= {message.method}
    return by_one


def _by_icalendar(text: str) -> Iterator[Told]:
    calendar = _without_errors(text)
    events: list[Any] = calendar.walk("VEVENT")
    for event in events:
        stands_for = event.get("recurrence-id")
        attendees = event.get("attendee", [])
        yield Told(
            method=str(calendar["method"]),
            uid=str(event["uid"]),
            sequence=int(event["sequence"]),
            stands_for=stands_for and stands_for.dt.astimezone(dt.UTC),
            status=str(event["status"]),
            starts_at=event.start.astimezone(dt.UTC),
            ends_at=event.end.astimezone(dt.UTC),
            stamp=event["dtstamp"].dt,
            weekly="rrule" in event,
            organizer=str(event["organizer"]),
            attendees=tuple(map(str, attendees if isinstance(attendees, list) else [attendees])),
        )


def _without_errors(text: str) -> icalendar.Calendar:
    """icalendar keeps what it could not read as errors: there must be none."""
    calendar = icalendar.Calendar.from_ical(text)
    assert [component.errors for component in calendar.walk() if component.errors] == []
    return calendar


def _by_vobject(text: str) -> Iterator[Told]:
    # It would rather use the zones of a file it has read before than those of this one.
    known = vars(vobject.icalendar)["__tzidMap"]
    for tzid in set(known) - {"UTC"}:
        del known[tzid]
    calendar = vobject.readOne(text)
    assert calendar.validate(raiseException=True)
    for event in calendar.vevent_list:
        content = event.contents
        yield Told(
            method=calendar.method.value,
            uid=event.uid.value,
            sequence=int(event.sequence.value),
            stands_for=event.recurrence_id.value.astimezone(dt.UTC) if "recurrence-id" in content else None,
            status=event.status.value,
            starts_at=event.dtstart.value.astimezone(dt.UTC),
            ends_at=event.dtend.value.astimezone(dt.UTC),
            stamp=event.dtstamp.value.astimezone(dt.UTC),
            weekly="rrule" in content,
            organizer=event.organizer.value,
            attendees=tuple(each.value for each in content["attendee"]),
        )


class OwnCalendar:
    """A calendar that knows of its person's life only by mail.

    Of two tellings of one event the one with the higher SEQUENCE holds, then the one with the later DTSTAMP
    (RFC 5546, 2.1.5), in whatever order they arrive. Without RECURRENCE-ID it speaks for all the meetings.
    """

    def __init__(self) -> None:
        self.held: dict[Key, tuple[tuple[int, dt.datetime], Any]] = {}
        self.zones: dict[str, Any] = {}

    def get(self, messages: Iterable[Message]) -> OwnCalendar:
        """Take the mails, one after another, as they arrive."""
        for message in messages:
            for part in calendar_parts(message):
                calendar = _without_errors(part.get_content())
                self.zones |= {str(zone["tzid"]): zone for zone in calendar.walk("VTIMEZONE")}
                for event in calendar.walk("VEVENT"):
                    self._take(event)
        return self

    def _take(self, event: Any) -> None:
        stands_for = event.get("recurrence-id")
        uid, moment = str(event["uid"]), stands_for and stands_for.dt.astimezone(dt.UTC)
        newness = int(event["sequence"]), event["dtstamp"].dt
        known = [self.held[key][0] for key in {(uid, moment), (uid, None)} if key in self.held]
        if all(newness >= each for each in known):
            self.held[uid, moment] = newness, event
        if moment is None:
            older = [key for key, (held, _) in self.held.items() if key[0] == uid and held < newness]
            for key in older:
                del self.held[key]

    def shown(self) -> set[Seen]:
        """What takes place."""
        calendar = icalendar.Calendar()
        for part in (*self.zones.values(), *(event for _, event in self.held.values())):
            calendar.add_component(part)
        return taking_place(calendar)

    def sequences(self) -> dict[str, int]:
        """How often each thing has changed, as far as this calendar knows."""
        uids = {uid for uid, _ in self.held}
        return {uid: max(held[0] for (one, _), (held, _) in self.held.items() if one == uid) for uid in uids}


def taking_place(calendar: icalendar.Calendar) -> set[Seen]:
    """Every meeting that is not called off, weekly ones laid out."""
    met = recurring_ical_events.of(calendar, keep_recurrence_attributes=True).between(2030, 2033)
    return {
        (str(event["uid"]), event.start.astimezone(dt.UTC), event.end.astimezone(dt.UTC))
        for event in met
        if event["status"] != "CANCELLED"
    }


def feed_of(person: Person) -> set[Seen]:
    """What the person's feed says of classes and seats, read as any reader would."""
    return taking_place(_without_errors(calendar_bytes(_file(person)).decode()))


def feed_sequences(person: Person) -> dict[str, int]:
    """How often each thing has changed, as the feed says."""
    events = _file(person).events
    return {each.uid: max(one.sequence for one in events if one.uid == each.uid) for each in events}


def _file(person: Person) -> CalendarFile:
    every = events_of(person=person, from_at=local(-20, 0), to_at=local(200, 0), whole_series=True)
    own = [event for event in every if event.kind in {EventKind.CLASS, EventKind.SEAT}]
    return CalendarFile(name="Own", description="", events=own)
