"""A seat is kept while its form is filled in: until a clock time, longer once, then booked or let go.

    keep --> (keep longer, once) --> book | let go | lapse: void when its time has passed

A kept seat holds its number, its torch and the torch's oxygen; the person's time is taken when it is booked.
Nobody keeps one for ever: it is one for a person and class, three at a time, and three times a day.
"""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from scheduling.engine.clock import ceil_minutes, moment
from scheduling.errors import KeptLongerOnce, KeptOver, KeptTooOften, Over, TooManyKept
from scheduling.models import Seat, SeatStatus, Session
from scheduling.selectors.seats import is_kept, is_past, kept_for
from scheduling.services import audit
from scheduling.services.bench import require_signed_off
from scheduling.services.earlier import require_earlier_courses
from scheduling.services.lapsing import lapse_kept, lock_bench
from scheduling.services.seating import (
    require_free,
    require_open,
    require_reserver,
    taken_in,
    torch_in_class,
    write_booked,
)
from scheduling.services.seats import (
    cancel_seat,
    lock_seat,
    require_giver,
    seat_in_class,
    torch_in_bench_time,
)
from scheduling.services.transactions import one_write
from scheduling.wording import place_of, when
from studios.models import Equipment, Person
from studios.said import said

__all__ = [
    "book_kept",
    "keep_another_torch",
    "keep_longer",
    "keep_seat",
    "keep_torch",
    "lapse_kept",
    "let_go",
]

MOST_AT_A_TIME = 3
MOST_TIMES, WITHIN = 3, dt.timedelta(days=1)


@one_write
def keep_seat(
    *, actor: Person, session: Session, person: Person | None = None, torch: Equipment | None = None
) -> Seat:
    """Keep a seat in a class. One that is kept for the person already stays, until the time it has.

    Raises what `reserve_class_seat` raises but SafetyUnread, which is asked on the form; TooManyKept and
    KeptTooOften.
    """
    seat = seat_in_class(actor=actor, session=session, person=person or actor, torch=torch)
    return _kept(actor, seat)


@one_write
def keep_torch(
    *,
    actor: Person,
    torch: Equipment,
    starts_at: dt.datetime,
    ends_at: dt.datetime,
    person: Person | None = None,
) -> Seat:
    """Keep a torch in open bench time, with its oxygen. Raises as `reserve_bench_torch` and `keep_seat`."""
    seat = torch_in_bench_time(
        actor=actor, torch=torch, person=person or actor, starts_at=starts_at, ends_at=ends_at
    )
    return _kept(actor, seat)


@one_write
def keep_another_torch(
    *, actor: Person, kept: Seat, torch: Equipment, starts_at: dt.datetime, ends_at: dt.datetime
) -> Seat:
    """Keep a torch in place of one that is kept for the same person: nobody sits at two at once.

    A refusal leaves the first one kept. The same torch at the same hours stays, until the time it has.
    Raises what `keep_torch` raises; a kept seat that has become a booked one, or nobody's, is left alone.
    """
    require_giver(actor, kept)
    lock_bench(torch, kept.person, besides=[kept.torch] if kept.torch else [])
    kept.refresh_from_db(fields=["status", "kept_until"])
    if is_kept(kept) and (kept.torch, kept.starts_at, kept.ends_at) != (torch, starts_at, ends_at):
        let_go(actor=actor, seat=kept)
    return keep_torch(actor=actor, torch=torch, starts_at=starts_at, ends_at=ends_at, person=kept.person)


def _kept(actor: Person, seat: Seat) -> Seat:
    if seat.status == SeatStatus.KEPT:
        seat.save(update_fields=["torch"])
        return seat
    _require_few(seat)
    _require_seldom(seat)
    seat.status, seat.kept_until = SeatStatus.KEPT, _later(timezone.now(), seat)
    seat.save()
    audit.note(actor=actor, did="keep", subject=seat, studio=seat.studio, said=place_of(seat))
    return seat


def _later(from_at: dt.datetime, seat: Seat) -> dt.datetime:
    """The studio's minutes later, on a whole minute: a page says it to the minute, and means it."""
    return moment(ceil_minutes(from_at + dt.timedelta(minutes=seat.studio.keep_seat_min)))


def _require_few(seat: Seat) -> None:
    count = kept_for(seat.person).filter(waiting_place__isnull=True).count()
    if count >= MOST_AT_A_TIME:
        raise TooManyKept(who=seat.person.name, count=count)


def _require_seldom(seat: Seat) -> None:
    """What was kept and never booked keeps its time, so that it can be counted; offers do not count."""
    kept = Seat.objects.filter(
        person=seat.person, kept_until__isnull=False, created_at__gt=timezone.now() - WITHIN
    )
    same = kept.filter(session=seat.session) if seat.session else kept.filter(session=None, torch=seat.torch)
    count = same.filter(waiting_place__isnull=True).count()
    if count >= MOST_TIMES:
        raise KeptTooOften(who=seat.person.name, count=count)


@one_write
def keep_longer(*, actor: Person, seat: Seat) -> Seat:
    """Keep a seat longer, by the studio's minutes, once.

    Raises NotAllowed, Over, KeptOver or KeptLongerOnce.
    """
    require_giver(actor, seat)
    _require_kept(seat)
    if getattr(seat, "waiting_place", None) is not None:
        raise Over(what=said("An offer"), why=said("has a deadline of its own and is not kept longer"))
    if seat.kept_longer or seat.kept_until is None:
        raise KeptLongerOnce(until=_until(seat))
    seat.kept_until, seat.kept_longer = _later(seat.kept_until, seat), True
    seat.save(update_fields=["kept_until", "kept_longer"])
    audit.note(actor=actor, did="keep-longer", subject=seat, studio=seat.studio, said=place_of(seat))
    return seat


@one_write
def book_kept(
    *,
    actor: Person,
    seat: Seat,
    note: str = "",
    acknowledged: int | None = None,
    torch: Equipment | None = None,
) -> Seat:
    """Book a kept or offered seat before its time has passed; `torch` changes it for a free one of the class.

    Raises NotAllowed, KeptOver, Over, PersonBusy, EarlierCourseNeeded, NotQualified, SeatTaken, SafetyUnread
    or InvalidInput.
    """
    require_giver(actor, seat)
    require_reserver(actor, seat.person, seat.studio)
    _require_kept(seat)
    require_free(seat.person, seat.starts_at, seat.ends_at, seat.studio)
    if seat.session is None:
        require_signed_off(seat.person, seat.studio)
    else:
        _require_in_class(seat, seat.session, torch)
    return write_booked(seat, actor=actor, note=note, acknowledged=acknowledged)


def _require_in_class(seat: Seat, session: Session, torch: Equipment | None) -> None:
    session.refresh_from_db(fields=["status", "starts_at", "sequence", "changed_at", "instructor"])
    require_open(session)
    require_earlier_courses(seat.person, session)
    if torch is not None and torch.pk != seat.torch_id:
        taken = {one.torch_id for one in taken_in(session)}
        seat.torch = torch_in_class(session, taken, torch)


@one_write
def let_go(*, actor: Person, seat: Seat) -> Seat:
    """A kept seat, or an offer, is not wanted; the next in line is asked. Raises NotAllowed or Over."""
    require_giver(actor, seat)
    lock_seat(seat)
    if seat.status == SeatStatus.BOOKED:
        raise Over(what=said("The seat"), why=said("is booked; give it back instead"))
    return cancel_seat(actor=actor, seat=seat)


def _require_kept(seat: Seat) -> None:
    """Lock a seat that is kept and whose time has not passed. Raises Over or KeptOver."""
    lock_seat(seat)
    if seat.status == SeatStatus.BOOKED:
        raise Over(what=said("The seat"), why=said("is booked already"))
    if seat.status == SeatStatus.CANCELLED and seat.kept_until is None:
        raise Over(what=said("The seat"), why=said("is given back already"))
    if seat.status == SeatStatus.CANCELLED or is_past(seat):
        raise KeptOver(until=_until(seat))


def _until(seat: Seat) -> str:
    return when(seat.kept_until, seat.studio) if seat.kept_until else ""
