"""Torches in open bench time: what one of them holds from its purge to its cooling, and how it is freed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from scheduling.engine.clock import moment
from scheduling.engine.records import Ask, Kind
from scheduling.engine.search import place
from scheduling.engine.spans import covers, first_fit
from scheduling.errors import InvalidInput, NoBenchTime, NotQualified
from scheduling.models import Booking, Seat
from scheduling.services.booking import require_placement, whole_minute
from scheduling.services.holding import write_occupancy
from scheduling.services.prices import price_of_hours
from scheduling.services.refills import write_change_overs
from scheduling.services.transactions import lock
from scheduling.snapshot import bench_spans, horizon_around, load_world
from scheduling.wording import when
from studios.models import Equipment, EquipmentKind, Person, Studio
from studios.said import said
from studios.selectors import not_signed_off

SHORTEST_MIN, LONGEST_MIN = 15, 12 * 60


def require_torch_time(torch: Equipment, starts_at: dt.datetime, ends_at: dt.datetime) -> None:
    """A torch is reserved for a sensible time, to the minute. Raises InvalidInput."""
    start, end = whole_minute(starts_at), whole_minute(ends_at)
    if torch.kind != EquipmentKind.TORCH or not torch.active:
        raise InvalidInput(
            field="torch", problem=said("{torch} is not a torch that can be reserved.", torch=torch.name)
        )
    if not SHORTEST_MIN <= end - start <= LONGEST_MIN:
        raise InvalidInput(
            field="ends_at",
            problem=said(
                "Bench time lasts from {shortest_min} minutes to {number} hours; "
                "the end comes after the start.",
                shortest_min=SHORTEST_MIN,
                number=LONGEST_MIN // 60,
            ),
        )


def lock_torches(torches: Iterable[Equipment], people: Iterable[int] = ()) -> None:
    """Lock the torches, what they draw on, the rooms that they stand in, and people."""
    every = list(torches)
    lock(
        supplies=[key for torch in every for key in _supplies_at(torch)],
        equipment=[torch.pk for torch in every],
        people=people,
    )


def _supplies_at(torch: Equipment) -> list[int]:
    """What a torch draws on, and the room that it stands in."""
    room = [] if torch.room_id is None else [torch.room_id]
    return [*torch.draws.values_list("supply_id", flat=True), *room]


def require_bench_time(studio: Studio, starts_at: dt.datetime, ends_at: dt.datetime) -> None:
    """Torches are reserved without a class in open bench time only. Raises NoBenchTime."""
    start, end = whole_minute(starts_at), whole_minute(ends_at)
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


def require_signed_off(person: Person, studio: Studio) -> None:
    """In bench time nobody teaches: only people whom the studio has signed off for torches work alone."""
    if not_signed_off(person, studio, {EquipmentKind.TORCH.value}):
        raise NotQualified(field="person", who=person.name, kinds=said("torch"), studio=studio.name)


def hold_torch(
    *, actor: Person, torch: Equipment, person: Person, starts_at: dt.datetime, ends_at: dt.datetime
) -> Seat:
    """What a torch holds in bench time, and the seat at it, not yet written. Raises NoStart, AlreadyTaken."""
    studio, start, end = torch.studio, whole_minute(starts_at), whole_minute(ends_at)
    ask = Ask(
        title=said("open bench time"),
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
    return Seat(
        person=person,
        studio=studio,
        booking=booking,
        torch=torch,
        number=torch.number,
        starts_at=moment(start),
        ends_at=moment(end),
        price=price_of_hours(studio.torch_hour_price, end - start),
    )
