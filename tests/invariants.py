"""What must be true of the tables whatever was done in whatever order, read from the rows alone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby, pairwise
from typing import Any

from django.db.models import Max, Sum

from scheduling.models import (
    Booking,
    BookingStatus,
    Firing,
    Occupancy,
    PersonSpan,
    Seat,
    Session,
    SupplyUse,
)


def broken(*, supplies: bool = True) -> list[str]:
    """Every invariant that the tables break, as sentences. After a cancellation, leave out supplies."""
    found = [*_overlaps(), *_phases(), *_firings(), *_bookings(), *_seats()]
    return [*found, *_supplies()] if supplies else found


def _overlaps() -> Iterator[str]:
    places = Occupancy.objects.order_by("equipment_id", "place", "exclusive_from")
    rows = places.values_list("equipment_id", "place", "exclusive_from", "exclusive_to")
    yield from _meeting("equipment", (((key, place), begin, end) for key, place, begin, end in rows))
    spans = PersonSpan.objects.order_by("person_id", "starts_at")
    yield from _meeting("person", spans.values_list("person_id", "starts_at", "ends_at"))


def _meeting(what: str, rows: Iterable[tuple[Any, Any, Any]]) -> Iterator[str]:
    for (one, _, end), (other, begin, _) in pairwise(rows):
        if one == other and begin < end:
            yield f"{what} {one} is held twice from {begin} to {end}"


def _phases() -> Iterator[str]:
    for row in Occupancy.objects.prefetch_related("phases"):
        edges = [(phase.starts_at, phase.ends_at) for phase in row.phases.all()]
        whole = edges and (edges[0][0], edges[-1][1]) == (row.starts_at, row.ends_at)
        if not whole or any(before[1] != after[0] for before, after in pairwise(edges)):
            yield f"the phases of {row} do not fill it"


def _firings() -> Iterator[str]:
    rows = Firing.objects.annotate(last=Max("loads__in_until"), room=Sum("loads__footprint_cm2"))
    for firing in rows.select_related("equipment"):
        held = Occupancy.objects.filter(firing=firing).first()
        if firing.status == BookingStatus.CANCELLED:
            if held or firing.last:
                yield f"{firing} is called off and still holds something"
            continue
        if held is None or firing.last is None:
            yield f"{firing} has no occupancy or no load"
        elif firing.last_in_at < firing.last or held.ends_at < firing.unload_at:
            yield f"{firing} ends before its last piece is in"
        elif firing.room > firing.equipment.capacity_cm2:
            yield f"{firing} holds more than its shelf"


def _bookings() -> Iterator[str]:
    for booking in Booking.objects.filter(status=BookingStatus.CANCELLED):
        if booking.occupancies.exists():
            yield f"{booking} is called off and still holds equipment"
    for session in Session.objects.filter(status=BookingStatus.BOOKED).select_related("course"):
        if not session.booking.occupancies.exists() and not session.loads.exists():
            yield f"{session} holds nothing"
        if not session.person_spans.exists():
            yield f"{session} has no instructor's time"


def _seats() -> Iterator[str]:
    seats = Seat.objects.filter(status=BookingStatus.BOOKED, session__isnull=False).order_by("session_id")
    for session, rows in groupby(seats.select_related("session"), key=lambda seat: seat.session):
        taken = list(rows)
        if session is not None and len(taken) > session.seats:
            yield f"{session} has more seats taken than it has"
        if len({seat.person_id for seat in taken}) < len(taken):
            yield f"{session} seats somebody twice"
        if session is not None and any(seat.starts_at != session.starts_at for seat in taken):
            yield f"{session} has a seat at another time"


def _supplies() -> Iterator[str]:
    uses = list(SupplyUse.objects.select_related("supply"))
    for use in uses:
        drawn = sum(
            other.amount
            for other in uses
            if other.supply_id == use.supply_id and other.starts_at <= use.starts_at < other.ends_at
        )
        if drawn > use.supply.limit + 1e-9:
            yield f"{use.supply} gives {drawn} at {use.starts_at}"
