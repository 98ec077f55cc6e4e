"""A seat in a class with nothing in the way: found in a few queries, which are put into SQL once.

What is asked here is coarse on purpose: whatever might matter counts as something in the way, and then the
rules are gone through one by one (`services.seats`), which say what it is.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Count, Exists, IntegerField, Max, Model, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from scheduling.models import (
    IN_LINE,
    TAKEN,
    BookingStatus,
    Course,
    Occupancy,
    Outage,
    PersonSpan,
    Seat,
    SeatStatus,
    Session,
    WaitingPlace,
)
from scheduling.prepared import Prepared, key_ahead
from scheduling.selectors.safety import day_at
from studios.models import Acknowledgement, Equipment, EquipmentKind, Membership, Person, SafetyText
from studios.permissions import ACTIONS

# What is said of a class to whoever sits in it; whatever else is asked of it is read when it is asked.
TOLD = (
    *("course__name", "course__price", "instructor__name"),
    *("studio__name", "studio__slug", "studio__time_zone", "studio__currency", "studio__cancel_deadline_h"),
    *("studio__address", "studio__latitude", "studio__longitude", "studio__email"),
)
# Whatever a person does that near may need a way there or back.
NEAR = dt.timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Plain:
    """The next seat of a class, which may be given at once; at the torches, with a torch of its own.

    `key` is that of its row, where the database gives keys ahead.
    """

    number: int
    torch: Equipment | None
    price: Decimal | None
    key: int | None


def session_to_sit_in(person: Person, uid: uuid.UUID) -> Session | None:
    """A session at one of the person's studios."""
    if person.is_superuser:
        return Session.objects.filter(uid=uid).select_related("course", "studio").first()
    return next(iter(SESSIONS(uid=uid, person=person.pk)), None)


def _sessions(uid: uuid.UUID, person: int) -> QuerySet[Session, Any]:
    """As `visible.sessions_of`, with nothing counted."""
    roles = Membership.objects.filter(person=person, studio=OuterRef("studio"))
    found = Session.objects.filter(Exists(roles), uid=uid)
    return found.select_related("course", "studio", "instructor").only(*_own(Session), *TOLD).order_by()


def _own(model: type[Model]) -> Iterator[str]:
    return (field.name for field in model._meta.concrete_fields)  # noqa: SLF001  (the documented way to them)


def question(session: Session, person: Person) -> QuerySet[Session, Any]:
    """What is asked of a locked session for a locked person."""
    return FACTS(
        session=session.pk,
        person=person.pk,
        now=timezone.now(),
        day=day_at(session.studio, session.starts_at),
        first=session.starts_at - NEAR,
        last=session.ends_at + NEAR,
    )


def plain_seat(session: Session, answer: tuple[Any, ...]) -> Plain | None:
    """The next seat of a locked session, where nothing at all is in the way."""
    if session.status != BookingStatus.BOOKED or session.starts_at <= timezone.now():
        return None
    is_free, torches, taken, last, price, key = answer
    if not is_free or taken != last or taken >= session.seats:
        return None
    torch = _torch(session) if torches else None
    if torches and torch is None:
        return None
    return Plain(number=taken + 1, torch=torch, price=price, key=key)


def _torch(session: Session) -> Equipment | None:
    free = TORCHES(
        session=session.pk, booking=session.booking_id, first=session.starts_at, last=session.ends_at
    )
    torch = next(iter(free), None)
    if torch is not None:
        torch.studio = session.studio
    return torch


def _facts(
    session: int, person: int, now: dt.datetime, day: dt.date, first: dt.datetime, last: dt.datetime
) -> QuerySet[Session, Any]:
    """Whether nothing is in the way; whether torches are held; seats taken, and the last one; the price."""
    seats = Seat.objects.filter(session=OuterRef("pk"), status__in=TAKEN).order_by().values("session")
    held = Occupancy.objects.filter(booking=OuterRef("booking"), equipment__kind=EquipmentKind.TORCH)
    clear = Q(_may_reserve(person)) & ~Q(_engaged(person, first, last)) & ~_wanted(person)
    return (
        Session.objects.filter(pk=session)
        .order_by()
        .annotate(in_force=_in_force(now))
        .annotate(is_free=clear & (Q(in_force=None) | Q(_read(person, day))))
        .values_list(
            "is_free",
            Exists(held),
            _number(seats.annotate(found=Count("pk")).values("found")),
            _number(seats.annotate(found=Max("number")).values("found")),
            "course__price",
            key_ahead(Seat),
        )
    )


def _number(rows: QuerySet[Seat, Any]) -> Coalesce:
    return Coalesce(Subquery(rows, output_field=IntegerField()), 0)


def _may_reserve(person: int) -> Exists:
    roles = Membership.objects.filter(person=person, studio=OuterRef("studio"))
    return Exists(roles.filter(role__in=sorted(ACTIONS["reserve"])))


def _engaged(person: int, first: dt.datetime, last: dt.datetime) -> Exists:
    return Exists(PersonSpan.objects.filter(person=person, starts_at__lt=last, ends_at__gt=first))


def _wanted(person: int) -> Q:
    """Others wait, or have a seat kept; the person sits here already; or the course builds on another."""
    waiting = WaitingPlace.objects.filter(session=OuterRef("pk"), status__in=IN_LINE)
    kept = Seat.objects.filter(session=OuterRef("pk"), status=SeatStatus.KEPT)
    own = Seat.objects.filter(session=OuterRef("pk"), person=person, status__in=TAKEN)
    earlier = Course.requires.through.objects.filter(from_course=OuterRef("course"))
    return Q(Exists(waiting) | Exists(kept) | Exists(own) | Exists(earlier))


def _in_force(now: dt.datetime) -> Subquery:
    """The safety text that the studio wants read; none where it asks for nothing."""
    begun = SafetyText.objects.filter(studio=OuterRef("studio"), since__lte=now)
    return Subquery(begun.order_by("-version").values("pk")[:1])


def _read(person: int, day: dt.date) -> Exists:
    read = Acknowledgement.objects.filter(text=OuterRef("in_force"), person=person)
    return Exists(read.filter(first_day__lte=day, last_day__gte=day))


def _torches(session: int, booking: int, first: dt.datetime, last: dt.datetime) -> QuerySet[Equipment, Any]:
    """The torches that a class holds, that are in order and nobody's, the first one at the head."""
    out = Outage.objects.filter(equipment=OuterRef("pk"), starts_at__lt=last, ends_at__gt=first)
    own = Seat.objects.filter(session=session, torch=OuterRef("pk"), status__in=TAKEN)
    held = Equipment.objects.filter(occupancies__booking=booking, kind=EquipmentKind.TORCH, active=True)
    return held.filter(~Exists(out), ~Exists(own)).order_by("number", "pk")


SESSIONS = Prepared(_sessions, uid=uuid.UUID, person=int)
FACTS = Prepared(
    _facts, session=int, person=int, now=dt.datetime, day=dt.date, first=dt.datetime, last=dt.datetime
)
TORCHES = Prepared(_torches, session=int, booking=int, first=dt.datetime, last=dt.datetime)
