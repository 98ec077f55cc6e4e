"""A session's page, and a person's own classes and seats."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import F, Max, Q, QuerySet
from django.utils import timezone

from scheduling.models import (
    BookingStatus,
    Course,
    Firing,
    LineStatus,
    Outage,
    Seat,
    SeatStatus,
    Session,
    WaitingPlace,
)
from scheduling.selectors.earlier import missing_courses
from scheduling.selectors.held import HeldSpan, Viewer, held_by_session
from scheduling.selectors.line import in_line_count, standing_places
from scheduling.selectors.safety import unread_in
from scheduling.selectors.seats import given_back_until, seat_given_back_until, seats_taken, standing
from studios.models import Equipment, EquipmentKind, Person
from studios.selectors import studios_of


@dataclass(frozen=True, kw_only=True)
class HeldEquipment:
    """One piece of equipment that a session holds."""

    equipment: Equipment
    held: HeldSpan


@dataclass(frozen=True, kw_only=True)
class SessionPage:
    """One session: what it holds, its firings, its seats; of a weekly class all its meetings."""

    session: Session
    held: tuple[HeldEquipment, ...]
    firings: tuple[Firing, ...]
    seats: tuple[Seat, ...]
    mine: Seat | None
    meetings: tuple[Session, ...]
    sees_names: bool
    assistants: tuple[Person, ...] = ()
    kept: Seat | None = None
    builds_on: tuple[Course, ...] = ()
    missing: tuple[Course, ...] = ()
    unread: frozenset[int] = frozenset()

    def teaches(self, person: Person) -> bool:
        """Whether a person teaches it or assists in it, and so has no seat."""
        return person.pk in {self.session.instructor_id, *(one.pk for one in self.assistants)}

    @property
    def free_seats(self) -> int:
        return max(0, self.session.seats - len(self.seats))

    @property
    def given_back_until(self) -> dt.datetime:
        """Until when a seat that is taken now is given back; the own one, as it was promised."""
        return given_back_until(self.mine) if self.mine else seat_given_back_until(self.session)

    @property
    def gives_back(self) -> bool:
        """Whether that is still to come."""
        return self.given_back_until >= timezone.now()

    @property
    def stands(self) -> bool:
        return self.session.status == BookingStatus.BOOKED

    @property
    def open(self) -> bool:
        """Seats can still be had or given back."""
        return self.stands and self.session.starts_at > timezone.now()

    @property
    def over(self) -> bool:
        return self.session.ends_at <= timezone.now()

    @property
    def to_come(self) -> tuple[Session, ...]:
        """The meetings of its weekly class that stand and have not begun."""
        now = timezone.now()
        return tuple(m for m in self.meetings if m.status == BookingStatus.BOOKED and m.starts_at > now)

    @property
    def collect_at(self) -> dt.datetime | None:
        """When the last of its pieces is out of the kiln, to be collected; unless a firing broke off."""
        if any(firing.broken_at for firing in self.firings):
            return None
        ends = [firing.occupancy.ends_at for firing in self.firings if hasattr(firing, "occupancy")]
        return max(ends, default=None)

    @property
    def torches(self) -> tuple[Equipment, ...]:
        return tuple(one.equipment for one in self.held if one.equipment.kind == EquipmentKind.TORCH)

    @property
    def free_torches(self) -> tuple[Equipment, ...]:
        taken = {seat.torch_id for seat in self.seats}
        return tuple(torch for torch in self.torches if torch.pk not in taken)


def session_page(*, uid: UUID, person: Person, viewer: Viewer) -> SessionPage | None:
    """A session of one of the person's studios; a stranger's is not found."""
    session = (
        Session.objects.filter(uid=uid, studio__in=studios_of(person))
        .select_related("course__glass", "studio", "instructor", "booking", "series")
        .first()
    )
    if session is None:
        return None
    held = held_by_session(session_id=session.pk, viewer=viewer)
    seats = _seats(session)
    own = [seat for seat in seats if seat.person_id == person.pk]
    return SessionPage(
        session=session,
        held=_with_equipment(held),
        firings=tuple(
            Firing.objects.filter(loads__session=session, status=BookingStatus.BOOKED).select_related(
                "equipment", "occupancy"
            )
        ),
        seats=seats,
        mine=next((seat for seat in own if seat.status == SeatStatus.BOOKED), None),
        kept=next((seat for seat in own if seat.status == SeatStatus.KEPT), None),
        builds_on=tuple(session.course.requires.order_by("name")),
        missing=tuple(missing_courses(person=person, session=session)),
        unread=unread_in(session, [seat.person_id for seat in seats]),
        meetings=tuple(session.series.sessions.order_by("starts_at", "pk")) if session.series else (),
        sees_names=viewer.sees_names_at(session.studio_id),
        assistants=tuple(session.assistants.order_by("name", "pk")),
    )


def _seats(session: Session) -> tuple[Seat, ...]:
    rows = session.seat_rows.filter(standing()).select_related("person", "torch", "studio", "waiting_place")
    return tuple(rows.order_by("number"))


def free_torches_of(seat: Seat) -> QuerySet[Equipment]:
    """The torch of a seat in a class, and those of the class that are nobody's and in order."""
    if seat.session is None:
        return Equipment.objects.none()
    others = seat.session.seat_rows.filter(standing(), torch__isnull=False).exclude(pk=seat.pk)
    out = Outage.objects.filter(starts_at__lt=seat.ends_at, ends_at__gt=seat.starts_at)
    held = Equipment.objects.filter(occupancies__booking=seat.session.booking_id, kind=EquipmentKind.TORCH)
    free = held.filter(active=True).exclude(outages__in=out).exclude(pk__in=others.values("torch_id"))
    return free.order_by("number", "pk")


def _with_equipment(held: Sequence[HeldSpan]) -> tuple[HeldEquipment, ...]:
    rows = Equipment.objects.in_bulk({one.equipment_id for one in held})
    found = (HeldEquipment(equipment=rows[one.equipment_id], held=one) for one in held)
    return tuple(sorted(found, key=lambda one: (one.held.span, one.equipment.kind, one.equipment.number)))


def seats_of(person: Person) -> QuerySet[Seat]:
    """A person's own seats, the standing ones, in order of date; with when the pieces can be collected."""
    fired = Q(session__loads__firing__status=BookingStatus.BOOKED)
    fired &= Q(session__loads__firing__broken_at__isnull=True)
    return (
        person.seats.filter(status=BookingStatus.BOOKED)
        .select_related("session__course", "session__instructor", "studio", "torch")
        .annotate(collect_at=Max("session__loads__firing__occupancy__ends_at", filter=fired))
        .order_by("starts_at", "pk")
    )


def taught_by(person: Person) -> QuerySet[Session]:
    """The sessions a person still has to teach or assist in, in order of date."""
    return (
        Session.objects.filter(
            Q(instructor=person) | Q(pk__in=person.assisted_sessions.values("pk")),
            status=BookingStatus.BOOKED,
            ends_at__gt=timezone.now(),
        )
        .select_related("course", "studio", "instructor")
        .annotate(seats_taken=seats_taken())
        .order_by("starts_at", "pk")
    )


def sessions_with_seats(*, person: Person, kind: str = "") -> QuerySet[Session]:
    """Coming sessions in which the person could still take a seat, in order of date.

    At the person's studios, of a kind of equipment if one is named; never one the person teaches, assists or
    already sits in.
    """
    found = _to_come_for(person).filter(Q(seats_left__gt=0)).exclude(pk__in=_waited_for())
    return found.filter(course__needs__kind=kind) if kind else found


def full_sessions(*, person: Person) -> QuerySet[Session]:
    """Coming sessions in whose line the person could wait: no seat is free, or somebody waits already."""
    full = Q(seats_left__lte=0) | Q(pk__in=_waited_for())
    own = person.waiting_places.filter(standing_places()).values("session_id")
    return _to_come_for(person).filter(full).exclude(pk__in=own).annotate(waiting=in_line_count())


def _waited_for() -> QuerySet[WaitingPlace, Any]:
    return WaitingPlace.objects.filter(status=LineStatus.WAITING).values("session_id")


def _to_come_for(person: Person) -> QuerySet[Session]:
    """At the person's studios; never one the person teaches, assists or already sits in."""
    sits_in = person.seats.filter(standing(), session__isnull=False).values("session_id")
    return (
        Session.objects.filter(
            studio__in=studios_of(person), status=BookingStatus.BOOKED, starts_at__gt=timezone.now()
        )
        .select_related("course", "studio", "instructor")
        .annotate(seats_taken=seats_taken(), seats_left=F("seats") - seats_taken())
        .exclude(pk__in=sits_in)
        .exclude(instructor=person)
        .exclude(pk__in=person.assisted_sessions.values("pk"))
        .order_by("starts_at", "pk")
    )
