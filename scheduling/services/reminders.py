"""People are reminded of what they come for: a seat, a torch, a class to teach; anew when it is moved."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from scheduling.models import BookingStatus, Message, Seat, SeatStatus, Session
from scheduling.selectors.safety import day_at, to_acknowledge
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from scheduling.wording import meeting, when
from studios.models import Person, Studio
from studios.said import said, several_said

HOUR = dt.timedelta(hours=1)


@dataclass(frozen=True, kw_only=True)
class Reminder:
    """Something to come, and who comes for it; `key` changes when it moves."""

    person: Person
    key: str
    subject: str
    body: str


def remind(between: Callable[[], None] = lambda: None) -> int:
    """Remind everybody whose hour has come, studio by studio; returns how many people were told."""
    reminded = 0
    for studio in Studio.objects.filter(remind_h__gt=0).order_by("pk"):
        for key in _sessions_near(studio).values_list("pk", flat=True):
            between()
            reminded += _remind_of_session(key)
        for key in _bench_near(studio).values_list("pk", flat=True):
            between()
            reminded += _remind_of_bench(key)
    return reminded


def _near(studio: Studio) -> dict[str, dt.datetime]:
    """So many hours before it begins as time passes, whatever the clocks do in between."""
    now = timezone.now()
    return {"starts_at__gt": now, "starts_at__lte": now + studio.remind_h * HOUR}


def _sessions_near(studio: Studio) -> QuerySet[Session]:
    sessions = Session.objects.filter(studio=studio, status=BookingStatus.BOOKED, **_near(studio))
    return sessions.select_related("course", "studio", "instructor", "booking").order_by("pk")


def _bench_near(studio: Studio) -> QuerySet[Seat]:
    seats = Seat.objects.filter(
        studio=studio, session__isnull=True, status=SeatStatus.BOOKED, **_near(studio)
    )
    return seats.select_related("person", "studio", "torch").order_by("pk")


def _was_known(made_at: dt.datetime, starts_at: dt.datetime, studio: Studio) -> bool:
    """Whoever booked later than the reminder would have come needs none."""
    return made_at < starts_at - studio.remind_h * HOUR


def _remind_of_session(key: int) -> int:
    """Looked at first without a lock: most people near a class have been reminded by now."""
    session = Session.objects.select_related("course", "studio", "instructor", "booking").get(pk=key)
    return _remind_locked(key) if _unsaid(_of_session(session)) else 0


@one_write
def _remind_locked(key: int) -> int:
    lock(sessions=[key])
    session = Session.objects.select_related("course", "studio", "instructor", "booking").get(pk=key)
    near = _sessions_near(session.studio).filter(pk=key).exists()
    return _tell(_of_session(session)) if near else 0


def _of_session(session: Session) -> list[Reminder]:
    seats = session.seat_rows.filter(status=SeatStatus.BOOKED).select_related("person", "torch", "studio")
    rows = list(seats.order_by("pk"))
    known = [row for row in rows if _was_known(row.created_at, session.starts_at, session.studio)]
    return [*_to_teach(session, len(rows)), *(_to_sit(session, seat) for seat in known)]


def _to_teach(session: Session, booked: int) -> list[Reminder]:
    if not _was_known(session.booking.created_at, session.starts_at, session.studio):
        return []
    waiting = session.line.filter(status="waiting").count()
    line = said("; {waiting} in the waiting line", waiting=waiting) if waiting else ""
    body = said(
        "{meeting}, to {end}: {booked} of {seats} seats are booked{line}.",
        meeting=meeting(session),
        end=when(session.ends_at, session.studio),
        booked=booked,
        seats=session.seats,
        line=line,
    )
    return [
        Reminder(
            person=person,
            key=f"remind-teach-{session.uid}-{session.sequence}",
            subject=said("To teach: {course}", course=session.course.name),
            body=body,
        )
        for person in [session.instructor, *session.assistants.order_by("pk")]
    ]


def _to_sit(session: Session, seat: Seat) -> Reminder:
    seat_of = said("seat {number}", number=seat.number)
    named = several_said([seat_of, seat.torch.name], ", ") if seat.torch else seat_of
    end = when(session.ends_at, session.studio)
    body = said("{meeting}, to {end}: {seat}.", meeting=meeting(session), end=end, seat=named)
    return Reminder(
        person=seat.person,
        key=f"remind-{seat.uid}-{seat.sequence}-{session.sequence}",
        subject=said("To come: {course}", course=session.course.name),
        body=several_said([body, *_where(session.studio), *_unread(seat)], "\n"),
    )


def _where(studio: Studio) -> list[str]:
    return [f"{studio.name}, {studio.address}"] if studio.address else []


def _unread(seat: Seat) -> list[str]:
    day = day_at(seat.studio, seat.starts_at)
    if to_acknowledge(person=seat.person, studio=seat.studio, day=day) is None:
        return []
    return [said("The safety text is still to be read: it stands on your page My seats.")]


def _remind_of_bench(key: int) -> int:
    seat = Seat.objects.select_related("person", "studio", "torch").get(pk=key)
    return _remind_of_torch(seat) if _unsaid(_of_bench(seat)) else 0


@one_write
def _remind_of_torch(seat: Seat) -> int:
    """A torch is given back under the lock of its person."""
    lock(people=[seat.person_id])
    near = _bench_near(seat.studio).filter(pk=seat.pk)
    return sum(_tell(_of_bench(found)) for found in near)


def _of_bench(seat: Seat) -> list[Reminder]:
    if seat.torch is None or not _was_known(seat.created_at, seat.starts_at, seat.studio):
        return []
    body = said(
        "{torch} at {studio}, {start}, to {end}.",
        torch=seat.torch.name,
        studio=seat.studio.name,
        start=when(seat.starts_at, seat.studio),
        end=when(seat.ends_at, seat.studio),
    )
    return [
        Reminder(
            person=seat.person,
            key=f"remind-{seat.uid}-{seat.sequence}",
            subject=said("To come: {torch}, open bench time", torch=seat.torch.name),
            body=several_said([body, *_where(seat.studio), *_unread(seat)], "\n"),
        )
    ]


def _unsaid(reminders: Sequence[Reminder]) -> list[Reminder]:
    told = Message.objects.filter(key__in={reminder.key for reminder in reminders})
    known = set(told.values_list("person_id", "key"))
    return [one for one in reminders if (one.person.pk, one.key) not in known]


def _tell(reminders: Iterable[Reminder]) -> int:
    unsaid = _unsaid(list(reminders))
    for one in unsaid:
        tell(person=one.person, subject=one.subject, body=one.body, key=one.key)
    return len(unsaid)
