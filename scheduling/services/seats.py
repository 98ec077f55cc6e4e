"""Seats: a place in a class, or a numbered torch in open bench time. One write path for both."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from scheduling.engine.clock import moment
from scheduling.engine.records import Ask, Kind
from scheduling.engine.search import place
from scheduling.engine.spans import covers, first_fit
from scheduling.errors import (
    InvalidInput,
    NoBenchTime,
    NoSeatLeft,
    NotAllowed,
    NotQualified,
    Over,
    PersonBusy,
    SeatTaken,
)
from scheduling.models import Booking, BookingStatus, Occupancy, Outage, PersonSpan, Seat, Session
from scheduling.services.booking import require_placement, whole_minute
from scheduling.services.cancelling import cancel_booking, release_seat
from scheduling.services.holding import write_occupancy
from scheduling.services.messages import tell
from scheduling.services.refills import drop_unneeded, write_change_overs
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import bench_spans, horizon_around, load_world
from scheduling.wording import when
from studios.models import Equipment, EquipmentKind, Person, Studio, Travel
from studios.selectors import may, not_signed_off

SHORTEST_MIN, LONGEST_MIN = 15, 12 * 60


@one_write
def reserve_class_seat(
    *, actor: Person, session: Session, person: Person | None = None, torch: Equipment | None = None
) -> Seat:
    """Reserve a seat in a class; at the torches it comes with a numbered torch of the class.

    Raises NotAllowed, NotQualified, Over, NoSeatLeft, SeatTaken, PersonBusy or AlreadyTaken.
    """
    person = person or actor
    _require_reserver(actor, person, session.studio)
    lock(sessions=[session.pk], people=[person.pk])
    session = Session.objects.select_related("course", "studio", "booking").get(pk=session.pk)
    _require_open(session)
    _require_free(person, session.starts_at, session.ends_at, session.studio)
    taken = Seat.objects.filter(session=session, status=BookingStatus.BOOKED)
    numbers = set(taken.values_list("number", flat=True))
    number = next((n for n in range(1, session.seats + 1) if n not in numbers), None)
    if number is None:
        raise _full(session)
    chosen = _torch_in_class(session, set(taken.values_list("torch_id", flat=True)), torch)
    return _write_seat(
        Seat(
            person=person,
            studio=session.studio,
            session=session,
            torch=chosen,
            number=number,
            starts_at=session.starts_at,
            ends_at=session.ends_at,
        ),
        f"{session.course.name}, seat {number}",
    )


def _require_reserver(actor: Person, person: Person, studio: Studio) -> None:
    if actor != person and not may(actor, "reserve-for-others", studio):
        raise NotAllowed(
            field="person",
            who=actor.name,
            what="reserve for somebody else",
            studio=studio.name,
            role="instructor",
        )
    if not person.is_active or not may(person, "reserve", studio):
        raise NotAllowed(
            field="person", who=person.name, what="reserve a seat", studio=studio.name, role="student"
        )


def _require_open(session: Session) -> None:
    if session.status != BookingStatus.BOOKED:
        raise Over(field="session", what=session.course.name, why="is called off")
    if session.starts_at <= timezone.now():
        raise Over(field="session", what=session.course.name, why="has begun; no seat is given any more")


def _require_free(person: Person, starts_at: dt.datetime, ends_at: dt.datetime, studio: Studio) -> None:
    """A person is at one place at a time, and needs time to get from one studio to another."""
    longest = dt.timedelta(days=1)
    near = PersonSpan.objects.filter(
        person=person, starts_at__lt=ends_at + longest, ends_at__gt=starts_at - longest
    ).select_related("studio", "session__course", "seat__session__course")
    for span in near.order_by("starts_at"):
        there, back = _travel(studio, span.studio), _travel(span.studio, studio)
        if span.starts_at < ends_at + there and starts_at - back < span.ends_at:
            raise _busy(person, span, studio, there if span.starts_at >= ends_at else back)


def _travel(origin: Studio, destination: Studio) -> dt.timedelta:
    row = Travel.objects.filter(origin=origin, destination=destination).first()
    return dt.timedelta(minutes=row.minutes if row else 0)


def _busy(person: Person, span: PersonSpan, studio: Studio, way: dt.timedelta) -> PersonBusy:
    session = span.session or (span.seat.session if span.seat else None)
    what = session.course.name if session else "bench time"
    return PersonBusy(
        field="person",
        who=person.name,
        what=what if span.studio == studio else f"{what} at {span.studio.name}",
        start=when(span.starts_at, studio),
        end=when(span.ends_at, studio),
        way=f", and {way // dt.timedelta(minutes=1)} min on the way" if way else "",
    )


def _torch_in_class(session: Session, taken: set[int | None], asked: Equipment | None) -> Equipment | None:
    """One of the torches that the class holds, that is in order and nobody's; None where it holds none."""
    held = Equipment.objects.filter(occupancies__booking=session.booking_id, kind=EquipmentKind.TORCH)
    out = Outage.objects.filter(starts_at__lt=session.ends_at, ends_at__gt=session.starts_at)
    torches = list(held.order_by("number", "pk"))
    in_order = list(held.filter(active=True).exclude(outages__in=out).order_by("number", "pk"))
    if asked is not None and asked not in torches:
        raise InvalidInput(field="torch", problem=f"{asked.name} is not one of the torches of this class.")
    if asked is not None and asked not in in_order:
        raise SeatTaken(field="torch", seat=asked.name, when="by an outage")
    if asked is not None and asked.pk in taken:
        raise SeatTaken(field="torch", seat=asked.name, when="in this class")
    if asked is not None:
        return asked
    free = [torch for torch in in_order if torch.pk not in taken]
    if torches and not free:
        raise _full(session)
    return free[0] if free else None


def _full(session: Session) -> NoSeatLeft:
    return NoSeatLeft(
        field="session", course=session.course.name, when=when(session.starts_at, session.studio)
    )


def _write_seat(seat: Seat, what: str) -> Seat:
    seat.save()
    PersonSpan.objects.create(
        person=seat.person, studio=seat.studio, seat=seat, starts_at=seat.starts_at, ends_at=seat.ends_at
    )
    tell(
        person=seat.person,
        subject=f"Reserved: {what}",
        body=f"{what} at {seat.studio.name}, {when(seat.starts_at, seat.studio)} "
        f"to {when(seat.ends_at, seat.studio)}.",
    )
    return seat


@one_write
def reserve_bench_torch(
    *,
    actor: Person,
    torch: Equipment,
    starts_at: dt.datetime,
    ends_at: dt.datetime,
    person: Person | None = None,
) -> Seat:
    """Reserve a numbered torch in open bench time, if it is free and the oxygen suffices.

    Raises NotAllowed, NotQualified, InvalidInput, NoBenchTime, PersonBusy, NoStart or AlreadyTaken.
    """
    person, studio = person or actor, torch.studio
    _require_reserver(actor, person, studio)
    start, end = whole_minute(starts_at), whole_minute(ends_at)
    _require_torch_time(torch, start, end)
    lock(supplies=_supplies_at(torch), equipment=[torch.pk], people=[person.pk])
    _require_bench_time(studio, start, end)
    _require_signed_off(person, studio)
    _require_free(person, starts_at, ends_at, studio)
    ask = Ask(
        title="open bench time",
        studio_id=studio.pk,
        teach_min=end - start,
        stations=((Kind.TORCH, 1),),
        only=frozenset({torch.pk}),
        notice=False,
        people=1,
    )
    placement = require_placement(place(load_world([studio], horizon_around(starts_at)), ask, start))
    booking = Booking.objects.create(studio=studio, booked_by=actor)
    for part in placement.held:
        write_occupancy(part, booking=booking)
    write_change_overs(booking, placement.change_overs)
    return _write_seat(
        Seat(
            person=person,
            studio=studio,
            booking=booking,
            torch=torch,
            number=torch.number,
            starts_at=moment(start),
            ends_at=moment(end),
        ),
        f"{torch.name}, open bench time",
    )


def _supplies_at(torch: Equipment) -> list[int]:
    """What a torch draws on, and the room that it stands in."""
    room = [] if torch.room_id is None else [torch.room_id]
    return [*torch.draws.values_list("supply_id", flat=True), *room]


def _require_torch_time(torch: Equipment, start: int, end: int) -> None:
    if torch.kind != EquipmentKind.TORCH or not torch.active:
        raise InvalidInput(field="torch", problem=f"{torch.name} is not a torch that can be reserved.")
    if not SHORTEST_MIN <= end - start <= LONGEST_MIN:
        raise InvalidInput(
            field="ends_at",
            problem=f"Bench time lasts from {SHORTEST_MIN} minutes to {LONGEST_MIN // 60} hours; "
            "the end comes after the start.",
        )


def _require_signed_off(person: Person, studio: Studio) -> None:
    """In bench time nobody teaches: only people whom the studio has signed off for torches work alone."""
    if not_signed_off(person, studio, {EquipmentKind.TORCH.value}):
        raise NotQualified(field="person", who=person.name, kinds="torch", studio=studio.name)


def _require_bench_time(studio: Studio, start: int, end: int) -> None:
    spans = bench_spans(studio, (start - 60, end + 14 * 24 * 60))
    if covers(spans, start, end):
        return
    fit = first_fit(spans, start, end - start)
    hint = f" The next that is long enough begins {when(moment(fit), studio)}." if fit is not None else ""
    raise NoBenchTime(
        field="starts_at",
        studio=studio.name,
        start=when(moment(start), studio),
        end=when(moment(end), studio),
        hint=hint,
    )


@one_write
def cancel_seat(*, actor: Person, seat: Seat) -> Seat:
    """Give a seat back before it begins; a torch and its oxygen are free again.

    Raises NotAllowed or Over.
    """
    _require_giver(actor, seat)
    torch = seat.torch if seat.booking_id else None
    lock(
        supplies=_supplies_at(torch) if torch else (),
        equipment=[torch.pk] if torch else (),
        sessions=[seat.session_id] if seat.session_id else (),
        people=[seat.person_id],
    )
    seat.refresh_from_db(fields=["status", "sequence"])
    if seat.status != BookingStatus.BOOKED:
        raise Over(what="The seat", why="is given back already")
    if seat.starts_at <= timezone.now():
        raise Over(what="The seat", why="has begun and can no longer be given back")
    if seat.booking is not None:
        drawn = list(torch.draws.values_list("supply_id", flat=True)) if torch else []
        Occupancy.objects.filter(booking=seat.booking).delete()
        cancel_booking(seat.booking)
        drop_unneeded(drawn)
    release_seat(seat)
    if actor != seat.person:
        tell(
            person=seat.person,
            subject="Your seat was given back",
            body=f"Your seat at {seat.studio.name}, {when(seat.starts_at, seat.studio)}, "
            "was given back for you.",
        )
    return seat


def _require_giver(actor: Person, seat: Seat) -> None:
    if actor != seat.person and not may(actor, "reserve-for-others", seat.studio):
        raise NotAllowed(
            who=actor.name, what="give back somebody else's seat", studio=seat.studio.name, role="instructor"
        )
