"""Thermal records entered by hand: from a day on, as a fitted one is; and the pot of a furnace."""

from __future__ import annotations

from scheduling.errors import DayHasRecord, InvalidInput
from scheduling.selectors.calibrations import Moved, said_otherwise, today_at
from scheduling.services.calibrating import Accepted, require_calibrator
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import lock, one_write
from scheduling.snapshot import LAST_YEAR
from studios.models import Equipment, Person, Pot, ThermalRecord
from studios.said import said


@one_write
def enter_record(*, actor: Person, record: ThermalRecord) -> Accepted:
    """A record holds from a day on, today or later; firings already booked keep their hours, and are told of.

    Only the first one may begin earlier: nothing has been worked out from another. Raises NotAllowed,
    InvalidInput or DayHasRecord.
    """
    equipment = record.equipment
    require_calibrator(actor, equipment)
    lock(equipment=[equipment.pk])
    _require_day(record)
    checked(record).save()
    _note(actor, equipment, f"a record from {record.valid_from} on, {record.source}")
    return Accepted(record=record, moved=_moved(equipment, record))


def _moved(equipment: Equipment, record: ThermalRecord) -> tuple[Moved, ...]:
    return said_otherwise(equipment=Equipment.objects.get(pk=equipment.pk), from_day=record.valid_from)


def _require_day(record: ThermalRecord) -> None:
    earlier = ThermalRecord.objects.filter(equipment=record.equipment)
    if earlier.filter(valid_from=record.valid_from).exists():
        raise DayHasRecord(field="valid_from", equipment=record.equipment.name, day=record.valid_from)
    if record.valid_from.year >= LAST_YEAR:
        raise InvalidInput(
            field="valid_from", problem=said("The book goes to {year}; choose a day in it.", year=LAST_YEAR)
        )
    if earlier.exists() and record.valid_from < today_at(record.equipment):
        raise InvalidInput(
            field="valid_from", problem=said("A record is not made in the past: today or later.")
        )


@one_write
def drop_record(*, actor: Person, record: ThermalRecord) -> None:
    """A record that has not begun is taken back; firings already booked keep their hours.

    Raises NotAllowed or InvalidInput.
    """
    require_calibrator(actor, record.equipment)
    lock(equipment=[record.equipment_id])
    if record.valid_from <= today_at(record.equipment):
        raise InvalidInput(
            problem=said("This record has begun, and says what was; enter another one from today on.")
        )
    _note(actor, record.equipment, f"no record from {record.valid_from} on")
    record.delete()


@one_write
def keep_pot(*, actor: Person, pot: Pot) -> Pot:
    """What a furnace holds and how it is charged; charges already booked keep their hours.

    Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up-equipment", pot.furnace.studio)
    lock(equipment=[pot.furnace_id])
    checked(pot).save()
    _note(actor, pot.furnace, f"its pot holds {pot.capacity_kg:g} kg, never below {pot.floor_kg:g} kg")
    return pot


def _note(actor: Person, equipment: Equipment, what: str) -> None:
    note(actor, equipment.studio, f"{equipment.studio.name}: {equipment.name}, {what}", equipment)
