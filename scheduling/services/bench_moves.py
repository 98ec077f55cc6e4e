"""Bench time that an outage breaks goes to another torch, or to other hours.

lock every torch there --> what the seat held is free --> place it by the engine --> write it --> tell
"""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from scheduling.engine.clock import floor_minutes
from scheduling.engine.records import Ask, Kind, Placement
from scheduling.engine.search import place
from scheduling.engine.world import World
from scheduling.errors import NotAllowed, Over
from scheduling.models import Occupancy, PersonSpan, Seat, SeatStatus
from scheduling.services import audit, invitations
from scheduling.services.bench import lock_torches, require_bench_time
from scheduling.services.booking import require_placement, whole_minute
from scheduling.services.freeing import give_up_torches, past_torches
from scheduling.services.holding import write_occupancy
from scheduling.services.messages import tell
from scheduling.services.refills import drop_unneeded, write_change_overs
from scheduling.services.transactions import one_write
from scheduling.snapshot import horizon_around, load_world
from scheduling.wording import place_of, when
from studios.models import Equipment, EquipmentKind, Person, Studio
from studios.said import said
from studios.selectors import may

MENDERS = ("enter-outage", "reserve-for-others")


@one_write
def move_bench_time(*, actor: Person, seat: Seat, starts_at: dt.datetime) -> Seat:
    """Bench time begins then, as long as it was, at whichever torch can be had; its person is told.

    Who takes torches out of use may, and who reserves for others. Whoever cannot come then gives it back
    until it begins. Raises NotAllowed, InvalidInput, Over, NoBenchTime, NoStart (with its reasons) or
    AlreadyTaken.
    """
    whole_minute(starts_at)
    _require_mender(actor, seat.studio)
    lock_whole_bench(seat)
    seat.refresh_from_db(fields=["status", "sequence", "starts_at", "ends_at", "torch", "moved_at"])
    _require_to_come(seat)
    if starts_at != seat.starts_at:
        require_bench_time(seat.studio, starts_at, starts_at + (seat.ends_at - seat.starts_at))
    was, before = seat.starts_at, place_of(seat)
    world = without(seat, starts_at)
    placement = require_placement(place(world, bench_ask(seat), floor_minutes(starts_at)))
    _retake(seat, starts_at, placement, torch_of(world, placement))
    _tell_moved(seat, was)
    noted = f"{before} to {_hours(seat)}, {seat.torch}"
    audit.note(actor=actor, did="move", subject=seat, studio=seat.studio, said=noted)
    return seat


def _require_mender(actor: Person, studio: Studio) -> None:
    if not any(may(actor, action, studio) for action in MENDERS):
        raise NotAllowed(
            who=actor.name, what=said("move bench time"), studio=studio.name, role=said("technician")
        )


def lock_whole_bench(seat: Seat) -> None:
    """Lock every torch at the studio of a seat and its person; what was kept too long is free first."""
    torches = Equipment.objects.filter(studio=seat.studio, kind=EquipmentKind.TORCH, active=True)
    past = past_torches(seat.studio)
    others = [one.torch for one in (seat, *past) if one.torch is not None]
    lock_torches([*torches, *others], [seat.person_id])
    give_up_torches(past)


def _require_to_come(seat: Seat) -> None:
    if seat.session_id is not None or seat.status != SeatStatus.BOOKED:
        raise Over(what=said("The seat"), why=said("is no booked bench time"))
    if seat.starts_at <= timezone.now():
        raise Over(what=said("The bench time"), why=said("has begun and can no longer be moved"))


def without(seat: Seat, around: dt.datetime) -> World:
    """What the seat held is free, and its person; the world as it is then."""
    Occupancy.objects.filter(booking=seat.booking_id).delete()
    PersonSpan.objects.filter(seat=seat).delete()
    return load_world([seat.studio], horizon_around(around), [seat.person])


def bench_ask(seat: Seat) -> Ask:
    """One torch, whichever, for as long as the seat has one."""
    return Ask(
        title=said("open bench time"),
        studio_id=seat.studio_id,
        teach_min=floor_minutes(seat.ends_at) - floor_minutes(seat.starts_at),
        stations=((Kind.TORCH, 1),),
        notice=False,
        people=1,
        person_id=seat.person_id,
    )


def torch_of(world: World, placement: Placement) -> Equipment:
    """The torch that a placement holds."""
    held = (part.apparatus_id for part in placement.held)
    return Equipment.objects.get(pk=next(key for key in held if world.apparatus[key].kind is Kind.TORCH))


def _retake(seat: Seat, starts_at: dt.datetime, placement: Placement, torch: Equipment) -> None:
    drawn = seat.torch.draws.values_list("supply_id", flat=True) if seat.torch is not None else ()
    left, now = list(drawn), timezone.now()
    if starts_at != seat.starts_at:
        seat.moved_at = now
    seat.starts_at, seat.ends_at = starts_at, starts_at + (seat.ends_at - seat.starts_at)
    seat.torch, seat.number = torch, torch.number
    seat.sequence, seat.changed_at = seat.sequence + 1, now
    seat.save()
    times = {"starts_at": seat.starts_at, "ends_at": seat.ends_at}
    PersonSpan.objects.create(person=seat.person, studio=seat.studio, seat=seat, **times)
    if seat.booking is not None:
        for part in placement.held:
            write_occupancy(part, booking=seat.booking)
        write_change_overs(seat.booking, placement.change_overs)
    drop_unneeded(left)


def _hours(seat: Seat) -> str:
    return said(
        "{start} to {end}", start=when(seat.starts_at, seat.studio), end=when(seat.ends_at, seat.studio)
    )


def _tell_moved(seat: Seat, was: dt.datetime) -> None:
    """Whoever cannot come at the new time gives it back until it begins."""
    facts = {"studio": seat.studio.name, "when": when(was, seat.studio), "torch": str(seat.torch)}
    if seat.starts_at == was:
        subject = said("Changed: your torch")
        body = said("Your bench time at {studio}, {when}, is with {torch} now.", **facts)
    else:
        subject = said("Moved: your bench time")
        body = said(
            "Your bench time at {studio}, {when}, is moved to {hours}, with {torch}. "
            "If you cannot come then, give it back before it begins.",
            **facts,
            hours=_hours(seat),
        )
    tell(person=seat.person, subject=subject, body=body, **invitations.of_seat(seat))
