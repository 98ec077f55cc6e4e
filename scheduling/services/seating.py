"""What every way to a seat shares: who may have it, which one is free, and how it is booked.

Nothing here knows how the waiting line goes on: the line itself keeps seats by these rules.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from scheduling.errors import (
    InvalidInput,
    NoSeatLeft,
    NotAllowed,
    Over,
    PersonBusy,
    SeatTaken,
)
from scheduling.models import (
    IN_LINE,
    TAKEN,
    BookingStatus,
    LineStatus,
    Message,
    Outage,
    PersonSpan,
    Seat,
    SeatStatus,
    Session,
    WaitingPlace,
)
from scheduling.selectors.seats import given_back_until
from scheduling.services import audit, invitations
from scheduling.services.messages import message, ring_after_commit
from scheduling.services.safety import require_read
from scheduling.services.transactions import write_last
from scheduling.wording import amount, place_of, when
from studios.models import Equipment, EquipmentKind, Person, SafetyText, Studio, Travel
from studios.said import marked, said, several_said
from studios.selectors import may

LONGEST_NOTE = 200
TO_READ = marked(
    "Please read the safety text of {studio} before you come, and say so: it stands on your page My seats."
)
NO_WAY = dt.timedelta(0)


def require_reserver(actor: Person, person: Person, studio: Studio) -> None:
    """Who may reserve for whom. Raises NotAllowed."""
    if actor != person and not may(actor, "reserve-for-others", studio):
        raise NotAllowed(
            field="person",
            who=actor.name,
            what=said("reserve for somebody else"),
            studio=studio.name,
            role=said("instructor"),
        )
    if not person.is_active or not may(person, "reserve", studio):
        raise NotAllowed(
            field="person",
            who=person.name,
            what=said("reserve a seat"),
            studio=studio.name,
            role=said("student"),
        )


def require_open(session: Session) -> None:
    """Seats are given until a class begins. Raises Over."""
    if session.status != BookingStatus.BOOKED:
        raise Over(field="session", what=session.course.name, why=said("is called off"))
    if session.starts_at <= timezone.now():
        raise Over(
            field="session", what=session.course.name, why=said("has begun; no seat is given any more")
        )


def require_free(person: Person, starts_at: dt.datetime, ends_at: dt.datetime, studio: Studio) -> None:
    """A person is at one place at a time, and needs time to get from one studio to another."""
    longest = dt.timedelta(days=1)
    near = PersonSpan.objects.filter(
        person=person, starts_at__lt=ends_at + longest, ends_at__gt=starts_at - longest
    ).select_related("studio", "session__course", "seat__session__course")
    engaged = list(near.order_by("starts_at"))
    ways = _ways(studio) if engaged else {}
    for span in engaged:
        there, back = (
            ways.get(way, NO_WAY) for way in ((studio.pk, span.studio_id), (span.studio_id, studio.pk))
        )
        if span.starts_at < ends_at + there and starts_at - back < span.ends_at:
            raise _busy(person, span, studio, there if span.starts_at >= ends_at else back)


def _ways(studio: Studio) -> dict[tuple[int, int], dt.timedelta]:
    """How long it takes from a studio to each other one, and back."""
    rows = Travel.objects.filter(Q(origin=studio) | Q(destination=studio))
    found = rows.values_list("origin_id", "destination_id", "minutes")
    return {(origin, destination): dt.timedelta(minutes=minutes) for origin, destination, minutes in found}


def _busy(person: Person, span: PersonSpan, studio: Studio, way: dt.timedelta) -> PersonBusy:
    session = span.session or (span.seat.session if span.seat else None)
    what = session.course.name if session else "bench time"
    return PersonBusy(
        field="person",
        who=person.name,
        what=what
        if span.studio == studio
        else said("{what} at {studio}", what=what, studio=span.studio.name),
        start=when(span.starts_at, studio),
        end=when(span.ends_at, studio),
        way=said(", and {number} min on the way", number=way // dt.timedelta(minutes=1)) if way else "",
    )


def taken_in(session: Session) -> list[Seat]:
    """The seats of a session that nobody else can have, kept ones with their places in the line."""
    rows = session.seat_rows.filter(status__in=TAKEN)
    return list(rows.select_related("waiting_place", "person").order_by("number"))


def place_in(session: Session, person: Person, taken: Sequence[Seat], torch: Equipment | None = None) -> Seat:
    """The next free seat of a locked session, not yet written; at the torches with one of its own.

    Raises NoSeatLeft, SeatTaken or InvalidInput.
    """
    numbers = {seat.number for seat in taken}
    number = next((n for n in range(1, session.seats + 1) if n not in numbers), None)
    if number is None:
        raise _full(session)
    return Seat(
        person=person,
        studio=session.studio,
        session=session,
        torch=torch_in_class(session, {seat.torch_id for seat in taken}, torch),
        number=number,
        starts_at=session.starts_at,
        ends_at=session.ends_at,
        price=session.course.price,
    )


def torch_in_class(session: Session, taken: set[int | None], asked: Equipment | None) -> Equipment | None:
    """One of the torches that the class holds, that is in order and nobody's; None where it holds none."""
    out = Outage.objects.filter(
        equipment=OuterRef("pk"), starts_at__lt=session.ends_at, ends_at__gt=session.starts_at
    )
    held = Equipment.objects.filter(occupancies__booking=session.booking_id, kind=EquipmentKind.TORCH)
    torches = list(held.annotate(is_out=Exists(out)).order_by("number", "pk"))
    free = [one for one in torches if one.active and not one.is_out and one.pk not in taken]
    if asked is not None:
        return _asked(asked, torches, free)
    if torches and not free:
        raise _full(session)
    return free[0] if free else None


def _asked(asked: Equipment, torches: Sequence[Equipment], free: Sequence[Equipment]) -> Equipment:
    found = next((torch for torch in torches if torch == asked), None)
    if found is None:
        raise InvalidInput(
            field="torch", problem=said("{asked} is not one of the torches of this class.", asked=asked.name)
        )
    if found not in free:
        is_out = not found.active or found.is_out  # type: ignore[attr-defined]  # annotated above
        raise SeatTaken(field="torch", seat=asked.name, when="by an outage" if is_out else "in this class")
    return found


def _full(session: Session) -> NoSeatLeft:
    return NoSeatLeft(
        field="session", course=session.course.name, when=when(session.starts_at, session.studio)
    )


def write_booked(seat: Seat, *, actor: Person, note: str, acknowledged: int | None) -> Seat:
    """A seat, kept before or new, is the person's, and so is the time. Raises SafetyUnread, InvalidInput."""
    require_short(note)
    left = require_read(
        actor=actor,
        person=seat.person,
        studio=seat.studio,
        starts_at=seat.starts_at,
        acknowledged=acknowledged,
    )
    _leave_line(seat)
    seat.status, seat.kept_until, seat.kept_longer = SeatStatus.BOOKED, None, False
    seat.changed_at = timezone.now()
    return write_seat(seat, actor=actor, note=note, left=left)


def require_short(note: str) -> None:
    """Raises InvalidInput."""
    if len(note.strip()) > LONGEST_NOTE:
        raise InvalidInput(
            field="note", problem=said("Write at most {longest_note} characters.", longest_note=LONGEST_NOTE)
        )


def write_seat(seat: Seat, *, actor: Person, note: str, left: SafetyText | None = None) -> Seat:
    """Write a booked seat with the person's time, and tell and note it; `left` is still to be read."""
    seat.note = note.strip()
    has_key_ahead = seat._state.adding and seat.pk is not None  # noqa: SLF001  (the documented way to ask)
    if not has_key_ahead:
        seat.save()
    times = {"starts_at": seat.starts_at, "ends_at": seat.ends_at}
    write_last(
        *([seat] if has_key_ahead else []),
        PersonSpan(person=seat.person, studio=seat.studio, seat=seat, **times),
        _booked(seat, left),
        audit.entry(actor=actor, did="reserve", subject=seat, studio=seat.studio, said=place_of(seat)),
    )
    ring_after_commit()
    return seat


def _leave_line(seat: Seat) -> None:
    """Who waited for this class, or was offered a seat in it, has one now."""
    if seat.session_id is not None:
        places = WaitingPlace.objects.filter(session=seat.session_id, person=seat.person)
        in_line = places.filter(status__in=IN_LINE)
        in_line.update(status=LineStatus.TAKEN, changed_at=timezone.now())


def _booked(seat: Seat, left: SafetyText | None) -> Message:
    what = _what(seat)
    lines = [
        said(
            "{what} at {studio}, {start} to {end}.",
            what=what,
            studio=seat.studio.name,
            start=when(seat.starts_at, seat.studio),
            end=_end(seat),
        )
    ]
    if seat.price is not None:
        lines.append(said("Price: {amount}.", amount=amount(seat.price, seat.studio)))
    until = given_back_until(seat)
    if until > timezone.now():
        lines.append(said("You can give it back until {when}.", when=when(until, seat.studio)))
    if left is not None:
        lines.append(said(TO_READ, studio=seat.studio.name))
    invited = invitations.of_seat(seat)
    return message(
        person=seat.person,
        subject=said("Reserved: {what}", what=what),
        body=several_said(lines, "\n"),
        **invited,
    )


def _what(seat: Seat) -> str:
    if seat.session is not None:
        return said("{course}, seat {number}", course=seat.session.course.name, number=seat.number)
    return said("{torch}, open bench time", torch=seat.torch.name) if seat.torch else said("open bench time")


def _end(seat: Seat) -> str:
    return when(seat.ends_at, seat.studio)
