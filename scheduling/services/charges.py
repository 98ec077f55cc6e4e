"""Charges of a furnace: booked whole, taking all its places, and never shortened once they have started.

Between them the level of the glass may be measured.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils import timezone

from scheduling.engine.charges import charge_held, charge_refused
from scheduling.engine.clock import floor_minutes, moment
from scheduling.engine.records import EVER
from scheduling.engine.stores import below
from scheduling.engine.world import World
from scheduling.errors import ChargeNeeded, InvalidInput, NoPot, NotAllowed, Over
from scheduling.models import BookingStatus, Charge, Occupancy
from scheduling.selectors.stores import RunsDry, what_runs_dry
from scheduling.services import audit
from scheduling.services.booking import no_start, whole_minute
from scheduling.services.holding import write_occupancy
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import horizon_around, load_world, require_reachable
from scheduling.wording import when
from studios.models import Equipment, Person, Pot
from studios.said import said
from studios.selectors import may


@one_write
def book_charge(
    *, actor: Person, furnace: Equipment, starts_at: dt.datetime, level_after_kg: float | None = None
) -> Charge:
    """Book a whole charge, from turn-up to the end of coming down; every place of the furnace is taken.

    Without `level_after_kg` the pot is full after it. Raises NotAllowed, NoPot, InvalidInput, NoStart (with
    its reasons), ChargeNeeded or AlreadyTaken.
    """
    require_charger(actor, furnace)
    start, pot = whole_minute(starts_at), _pot(furnace)
    level = pot.capacity_kg if level_after_kg is None else level_after_kg
    if not pot.floor_kg < level <= pot.capacity_kg:
        raise InvalidInput(
            field="level_after_kg",
            problem=said(
                "After it the pot holds more than {floor_kg:g} and at most {capacity_kg:g} kg.",
                floor_kg=pot.floor_kg,
                capacity_kg=pot.capacity_kg,
            ),
        )
    lock(equipment=[furnace.pk])
    world = load_world([furnace.studio], horizon_around(starts_at))
    if (refusal := charge_refused(world, furnace.pk, start)) is not None:
        raise no_start(refusal)
    charge = _write(actor, furnace, world, start, level)
    _require_enough(charge, charge.ends_at)
    _note(actor, "charge", charge)
    return charge


def _note(actor: Person, did: str, charge: Charge) -> None:
    furnace, done = charge.furnace, when(charge.ends_at, charge.furnace.studio)
    noted = f"{furnace.name}, charged to {charge.level_after_kg:g} kg by {done}"
    audit.note(actor=actor, did=did, subject=charge, studio=furnace.studio, said=noted)


def require_charger(actor: Person, furnace: Equipment) -> None:
    if not may(actor, "charge", furnace.studio):
        raise NotAllowed(
            who=actor.name,
            what=said("charge the furnace"),
            studio=furnace.studio.name,
            role=said("technician"),
        )


def _pot(furnace: Equipment) -> Pot:
    pot = Pot.objects.filter(furnace=furnace).first()
    if pot is None:
        raise NoPot(field="furnace", equipment=furnace.name)
    return pot


def _write(actor: Person, furnace: Equipment, world: World, start: int, level: float) -> Charge:
    end = start + world.pots[furnace.pk].plan.total_min
    charge = Charge.objects.create(
        furnace=furnace,
        starts_at=moment(start),
        ends_at=moment(end),
        level_after_kg=level,
        booked_by=actor,
    )
    _hold(charge, world, start)
    return charge


def _hold(charge: Charge, world: World, start: int) -> None:
    for part in charge_held(world, charge.furnace_id, start):
        write_occupancy(part, charge=charge)


def _require_enough(charge: Charge, at: dt.datetime) -> None:
    """Whether the pot lasts, from the charge before `at` to the next, for all that is booked there."""
    furnace, usable = charge.furnace, floor_minutes(at)
    store = load_world([furnace.studio], horizon_around(at)).pots[furnace.pk].store
    period = next((p for p in store.periods if p.span[0] <= usable < p.span[1]), None)
    if period is None or period.room >= 0:
        return
    use, until = below(store, period), period.span[1]
    raise ChargeNeeded(
        furnace=furnace.name,
        course=use.held_by,
        when=when(moment(use.span[1]), furnace.studio),
        until="" if until == EVER else f" before {when(moment(until), furnace.studio)}",
    )


@dataclass(frozen=True, kw_only=True)
class Measured:
    """A level of glass as measured, and what is booked that finds too little glass by it."""

    furnace: Equipment
    at: dt.datetime
    level_kg: float
    runs_dry: tuple[RunsDry, ...]


@one_write
def measure_pot(*, actor: Person, furnace: Equipment, at: dt.datetime, level_kg: float) -> Measured:
    """Enter the level of the glass as somebody measured it: it counts from that minute on.

    Measured twice in a minute, the later entry counts. What is booked stays, also what then finds too little.
    Raises NotAllowed, NoPot or InvalidInput.
    """
    require_charger(actor, furnace)
    _require_measured(_pot(furnace), at, level_kg)
    lock(equipment=[furnace.pk])
    if Charge.objects.charges().filter(furnace=furnace, ends_at=at, status=BookingStatus.BOOKED).exists():
        raise InvalidInput(field="at", problem=said("A charge ends in this minute; the next one will do."))
    Charge.objects.measured().filter(furnace=furnace, ends_at=at).delete()
    row = Charge.objects.create(
        furnace=furnace,
        starts_at=at - dt.timedelta(minutes=1),
        ends_at=at,
        level_after_kg=level_kg,
        booked_by=actor,
    )
    noted = f"{furnace.name} held {level_kg:g} kg, {when(at, furnace.studio)}"
    audit.note(actor=actor, did="measure-pot", subject=row, studio=furnace.studio, said=noted)
    store = load_world([furnace.studio], horizon_around(timezone.now())).pots[furnace.pk].store
    return Measured(furnace=furnace, at=at, level_kg=level_kg, runs_dry=what_runs_dry(store))


def _require_measured(pot: Pot, at: dt.datetime, level_kg: float) -> None:
    """Raises InvalidInput."""
    require_reachable(at)
    if moment(floor_minutes(at)) != at:
        raise InvalidInput(field="at", problem=said("A level is given to the minute, without seconds."))
    if at > timezone.now():
        raise InvalidInput(field="at", problem=said("A level is entered once it has been measured."))
    if not 0 <= level_kg <= pot.capacity_kg:
        raise InvalidInput(
            field="level_kg",
            problem=said("The pot holds from 0 to {capacity_kg:g} kg.", capacity_kg=pot.capacity_kg),
        )


@one_write
def cancel_charge(*, actor: Person, charge: Charge) -> Charge:
    """Call off a charge that has not started, unless what is booked after it needs its glass.

    Raises NotAllowed, Over or ChargeNeeded.
    """
    furnace = charge.furnace
    require_charger(actor, furnace)
    _lock_to_come(charge)
    Occupancy.objects.filter(charge=charge).delete()
    charge.status, charge.changed_at = BookingStatus.CANCELLED, timezone.now()
    charge.sequence += 1
    charge.save(update_fields=["status", "changed_at", "sequence"])
    _require_enough(charge, charge.ends_at)
    _note(actor, "call-off-charge", charge)
    return charge


def _lock_to_come(charge: Charge) -> None:
    """Raises Over."""
    lock(equipment=[charge.furnace_id])
    charge.refresh_from_db(fields=["status", "sequence", "starts_at", "ends_at", "level_after_kg"])
    if charge.status != BookingStatus.BOOKED:
        raise Over(what=said("The charge"), why=said("is called off already"))
    if charge.starts_at <= timezone.now():
        raise Over(what=said("The charge"), why=said("has started; once started it is never shortened"))


@one_write
def move_charge(*, actor: Person, charge: Charge, starts_at: dt.datetime) -> Charge:
    """Move a charge that has not started, unless what is booked would find too little glass; it is told.

    Raises NotAllowed, InvalidInput, Over, NoStart (with its reasons), ChargeNeeded or AlreadyTaken.
    """
    furnace, start = charge.furnace, whole_minute(starts_at)
    require_charger(actor, furnace)
    _lock_to_come(charge)
    was = charge.starts_at, charge.ends_at
    Occupancy.objects.filter(charge=charge).delete()
    world = load_world([furnace.studio], horizon_around(starts_at))
    if (refusal := charge_refused(world, furnace.pk, start)) is not None:
        raise no_start(refusal)
    charge.starts_at, charge.ends_at = starts_at, moment(start + world.pots[furnace.pk].plan.total_min)
    charge.sequence, charge.changed_at = charge.sequence + 1, timezone.now()
    charge.save(update_fields=["starts_at", "ends_at", "sequence", "changed_at"])
    _hold(charge, world, start)
    for at in (was[1], charge.ends_at):
        _require_enough(charge, at)
    _tell_moved(actor, charge, was[0])
    _note(actor, "move", charge)
    return charge


def _tell_moved(actor: Person, charge: Charge, was: dt.datetime) -> None:
    """Whoever booked it hears of it, unless they moved it."""
    studio = charge.furnace.studio
    if actor != charge.booked_by:
        tell(
            person=charge.booked_by,
            subject=said("Moved: charge of {furnace}", furnace=charge.furnace.name),
            body=said(
                "The charge of {furnace} at {studio}, {when}, is moved to {when_2}. The glass is ready by "
                "{when_3}.",
                furnace=charge.furnace.name,
                studio=studio.name,
                when=when(was, studio),
                when_2=when(charge.starts_at, studio),
                when_3=when(charge.ends_at, studio),
            ),
        )
