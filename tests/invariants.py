"""What must be true of the tables whatever was done in whatever order, read from the rows alone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import combinations, groupby, pairwise
from typing import Any

from django.db.models import Count, Max, Q, Sum

from scheduling.models import (
    Booking,
    BookingStatus,
    Firing,
    JobStep,
    KilnJob,
    KilnJobStatus,
    Occupancy,
    PersonSpan,
    PieceState,
    Seat,
    Session,
    Stand,
    SupplyUse,
)


def broken(*, supplies: bool = True) -> list[str]:
    """Every invariant that the tables break, as sentences. After a cancellation, leave out supplies."""
    found = [*_overlaps(), *_phases(), *_firings(), *_bookings(), *_seats(), *_kiln_jobs(), *_stands()]
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
    # The loads of a kiln job keep the hours of their plan, also where they went in sooner.
    of_class = Max("loads__in_until", filter=Q(loads__job__isnull=True))
    rows = Firing.objects.annotate(last=of_class, filled=Count("loads"), room=Sum("loads__footprint_cm2"))
    for firing in rows.select_related("equipment"):
        held = Occupancy.objects.filter(firing=firing).first()
        if firing.status == BookingStatus.CANCELLED:
            if held or firing.filled:
                yield f"{firing} is called off and still holds something"
            continue
        if held is None or not firing.filled:
            yield f"{firing} has no occupancy or no load"
        elif (firing.last and firing.last_in_at < firing.last) or held.ends_at < firing.unload_at:
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


def _kiln_jobs() -> Iterator[str]:
    """What is booked has its firings, what is not holds nothing; a piece is in one load of each step."""
    for job in KilnJob.objects.annotate(fired=Count("loads")):
        if job.status == KilnJobStatus.BOOKED and not job.fired:
            yield f"{job} is booked and has no firing"
        if job.status == KilnJobStatus.ASKED and (job.fired or job.steps.exists()):
            yield f"{job} is only asked for and holds something"
    twice = Stand.objects.filter(load__job__isnull=False).values("piece", "load__job_step")
    for row in twice.annotate(stands=Count("pk")).filter(stands__gt=1):
        yield f"piece {row['piece']} stands twice in step {row['load__job_step']}"
    for step in JobStep.objects.filter(equipment__isnull=False).select_related("booking"):
        held = step.booking is not None and step.booking.status == BookingStatus.BOOKED
        if not held or not step.booking.occupancies.filter(equipment=step.equipment).exists():  # type: ignore[union-attr]
            yield f"{step} is at equipment that it does not hold"


def _stands() -> Iterator[str]:
    """On one shelf nothing stands in the place of something else; what lies in one mould has one place."""
    rows = Stand.objects.filter(level__isnull=False).exclude(piece__state=PieceState.LOST)
    on: dict[tuple[int, int], set[tuple[int, int, int, int, bool]]] = {}
    for stand in rows.select_related("load"):
        box = (stand.x_mm, stand.y_mm, stand.length_mm, stand.width_mm, stand.round)
        on.setdefault((stand.load.firing_id, stand.level), set()).add(box)  # type: ignore[arg-type]
    for (firing, level), boxes in on.items():
        for one, other in combinations(sorted(boxes), 2):
            if _meet(one, other):
                yield f"shelf {level} of firing {firing}: {one} and {other} stand in one place"


def _meet(one: tuple[int, int, int, int, bool], other: tuple[int, int, int, int, bool]) -> bool:
    """Whether two pieces meet; two round ones by their centres, else by the sides they take."""
    if one[4] and other[4]:
        centres = [(x + length / 2, y + width / 2) for x, y, length, width, _ in (one, other)]
        apart = math.dist(*centres)
        return apart < (one[2] + other[2]) / 2
    along = one[0] < other[0] + other[2] and other[0] < one[0] + one[2]
    return along and one[1] < other[1] + other[3] and other[1] < one[1] + one[3]
