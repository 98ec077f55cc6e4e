"""What somebody's calendar is told when something of theirs is booked, moved or called off (RFC 5546).

The events are those of the feeds, with the same UID and SEQUENCE: who subscribes sees what others are mailed.
The studio invites, and of those who come each sees nobody but themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from email.utils import parseaddr
from itertools import groupby
from operator import attrgetter
from typing import TypedDict

from django.conf import settings
from django.db.models import Sum
from django.urls import reverse

from scheduling.ical.event import CalendarEvent, Party
from scheduling.ical.invitations import Method, invitation
from scheduling.models import BookingStatus, Seat, Series, Session
from scheduling.selectors.calendar_events import class_event, meeting_event, seat_event, series_events
from studios.models import Person, Studio


class Invited(TypedDict):
    """What goes with a message: iCalendar objects of one method, one after another, or nothing.

    `page` is the address that shows the one thing that it is about.
    """

    method: str
    invitation: str
    page: str


NOTHING = Invited(method="", invitation="", page="")


def of_seat(seat: Seat) -> Invited:
    """A seat that is booked stands in its person's calendar, and goes out of it when it is theirs no more.

    A seat that was only kept never stood there.
    """
    return NOTHING if seat.kept_until is not None else _sent([seat_event(seat)], seat.studio, seat.person)


def of_class(session: Session, person: Person) -> Invited:
    """A class, or one meeting of a weekly one, for whoever teaches or assists in it, or did until now."""
    event = _event(session)
    gone = event.cancelled or not _teaches(person, session)
    return _sent([replace(event, cancelled=gone)], session.studio, person)


def of_series(series: Series, person: Person) -> Invited:
    """All meetings of a weekly class that somebody teaches or assists in, as one event that comes back."""
    meetings = _meetings(series)
    return _sent(series_events(series, meetings, theirs=_theirs(meetings, person)), series.studio, person)


def of_called_off(sessions: Sequence[Session], person: Person) -> Invited:
    """Meetings of one course that are called off; a weekly class of which nothing is left goes as a whole."""
    series = sessions[0].series
    if series is None:
        return _sent(map(class_event, sessions), sessions[0].studio, person)
    meetings = _meetings(series)
    theirs = _theirs(meetings, person)
    if any(each.pk in theirs and each.status == BookingStatus.BOOKED for each in meetings):
        gone = [_event(session) for session in sessions]
    else:
        every = series_events(series, meetings, theirs=theirs)
        gone = [replace(event, cancelled=True) for event in every if event.stands_for is None]
    return _sent(gone, series.studio, person)


def by_method(every: Iterable[Invited]) -> list[Invited]:
    """One for each method, for a mail carries one (RFC 6047, 2.4): what comes and what goes are two."""
    found: dict[str, list[Invited]] = {}
    for each in every:
        if each["method"]:
            found.setdefault(each["method"], []).append(each)
    return [_together(some) for some in found.values()] or [NOTHING]


def _together(some: Sequence[Invited]) -> Invited:
    """Of one method; a page is named where all are about it."""
    pages = {each["page"] for each in some}
    return Invited(
        method=some[0]["method"],
        invitation="".join(each["invitation"] for each in some),
        page=pages.pop() if len(pages) == 1 else "",
    )


def _event(session: Session) -> CalendarEvent:
    """A weekly class counts the changes of all its meetings together, as it does in the feeds."""
    event = meeting_event(session)
    if session.series is None or event.stands_for is None:
        return event
    return replace(event, sequence=session.series.sessions.aggregate(changes=Sum("sequence"))["changes"])


def _meetings(series: Series) -> list[Session]:
    every = series.sessions.select_related("course", "studio", "instructor", "series__studio")
    return list(every.prefetch_related("assistants", "person_spans").order_by("starts_at", "pk"))


def _theirs(meetings: Iterable[Session], person: Person) -> set[int]:
    return {session.pk for session in meetings if _teaches(person, session)}


def _teaches(person: Person, session: Session) -> bool:
    return person.pk == session.instructor_id or person in session.assistants.all()


def _sent(events: Iterable[CalendarEvent], studio: Studio, person: Person) -> Invited:
    """What a studio sends one person: an object for each UID (RFC 5546, 3.2.2)."""
    every = list(events)
    method = Method.CANCEL if all(event.cancelled for event in every) else Method.REQUEST
    parties = _organizer(studio), Party(name=person.name, email=person.email)
    texts = []
    for _uid, same in groupby(every, key=attrgetter("uid")):
        event, *others = same
        texts.append(invitation(event, method, *parties, others=others, link=_address))
    pages = {_address(event) for event in every}
    return Invited(
        method=method.value, invitation="".join(texts), page=pages.pop() if len(pages) == 1 else ""
    )


def _address(event: CalendarEvent) -> str:
    """Of the page that tells more; empty where nobody has said where the pages are reached."""
    name, *args = event.page
    return settings.PUBLIC_ADDRESS and settings.PUBLIC_ADDRESS + reverse(name, args=args)


def _organizer(studio: Studio) -> Party:
    """The studio, at its own address, else at that of the service."""
    return Party(name=studio.name, email=studio.email or parseaddr(settings.DEFAULT_FROM_EMAIL)[1])
