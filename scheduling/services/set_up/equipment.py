"""Equipment: added with what it draws and how it heats, changed, taken out of the book, and back.

A piece that has bookings to come is not taken out: they would hold what is not there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.db.models import Max

from scheduling.errors import InUse, InvalidInput
from scheduling.selectors.broken import Broken
from scheduling.selectors.set_up import held_ahead, holding
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import lock, one_write
from scheduling.wording import when
from studios.models import Equipment, EquipmentKind, Person, Studio, Supply, SupplyKind, ThermalRecord
from studios.said import said

Draws = Mapping[Supply, float]
MOST_NAMED = 5
MOST_TORCHES = 40


@one_write
def add_equipment(
    *, actor: Person, equipment: Equipment, draws: Draws, record: ThermalRecord | None = None
) -> Equipment:
    """A piece of equipment with its full connected draw on each supply, and how it heats and cools.

    Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up-equipment", equipment.studio)
    checked(equipment).save()
    _draw(equipment, draws)
    if record is not None:
        record.equipment = equipment
        checked(record).save()
    _note(actor, equipment, "is here")
    return equipment


@one_write
def add_torches(*, actor: Person, torch: Equipment, last_number: int, draws: Draws) -> list[Equipment]:
    """Torches of one kind from a number to another, each a place of its own at the bench.

    Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up-equipment", torch.studio)
    numbers = range(torch.number, last_number + 1)
    if not 1 <= len(numbers) <= MOST_TORCHES:
        raise InvalidInput(
            field="last_number",
            problem=said(
                "From {first} on, and at most {most} at once.", first=torch.number, most=MOST_TORCHES
            ),
        )
    added = [_torch(torch, number, several=len(numbers) > 1) for number in numbers]
    for one in added:
        checked(one).save()
        _draw(one, draws)
        _note(actor, one, "is here")
    return added


def _torch(given: Equipment, number: int, *, several: bool) -> Equipment:
    return Equipment(
        studio=given.studio,
        kind=EquipmentKind.TORCH,
        name=f"{given.name} {number}" if several else given.name,
        number=number,
        prepare_min=given.prepare_min,
        clear_min=given.clear_min,
        room=given.room,
    )


@one_write
def change_equipment(*, actor: Person, equipment: Equipment, draws: Draws) -> Equipment:
    """A piece of equipment as it is from now on; what is booked keeps its hours and its draws.

    It stays of its kind and at its studio, and keeps the places that are booked. Raises NotAllowed or
    InvalidInput.
    """
    begin(actor, "set-up-equipment", equipment.studio)
    lock(supplies=[supply.pk for supply in draws], equipment=[equipment.pk])
    if Equipment.objects.filter(pk=equipment.pk).exclude(kind=equipment.kind).exists():
        raise InvalidInput(
            field="kind", problem=said("A piece of equipment stays of its kind; add another one.")
        )
    _require_places(equipment)
    checked(equipment).save()
    _draw(equipment, draws)
    _note(actor, equipment, "is changed")
    return equipment


def _require_places(equipment: Equipment) -> None:
    highest = holding(equipment).aggregate(highest=Max("place"))["highest"] or 0
    if equipment.places < highest:
        raise InvalidInput(
            field="places",
            problem=said(
                "Place {place} is booked; move or call off what holds it before there are fewer.",
                place=highest,
            ),
        )


@one_write
def retire_equipment(*, actor: Person, equipment: Equipment) -> Equipment:
    """A piece of equipment is no longer offered; what was booked on it stays in the book.

    Refused while anything booked holds it: the refusal names what. Raises NotAllowed or InUse.
    """
    begin(actor, "set-up-equipment", equipment.studio)
    lock(equipment=[equipment.pk])
    if held := held_ahead(equipment, MOST_NAMED + 1):
        raise InUse(
            what=equipment.name,
            by=_named(held),
            instead=said("Move or call that off first; for a while, take it out of use instead."),
        )
    equipment.active = False
    equipment.save(update_fields=["active"])
    _note(actor, equipment, "is retired")
    return equipment


@one_write
def use_again(*, actor: Person, equipment: Equipment) -> Equipment:
    """A retired piece is offered again. Raises NotAllowed."""
    begin(actor, "set-up-equipment", equipment.studio)
    lock(equipment=[equipment.pk])
    equipment.active = True
    equipment.save(update_fields=["active"])
    _note(actor, equipment, "is in use again")
    return equipment


def _draw(equipment: Equipment, draws: Draws) -> None:
    """Exactly these draws; a supply with none is not drawn on."""
    wanted = {supply.pk: amount for supply, amount in draws.items() if amount}
    equipment.draws.exclude(supply__in=wanted).delete()
    for supply, amount in draws.items():
        if amount:
            _require_own(equipment.studio, supply)
            equipment.draws.update_or_create(supply=supply, defaults={"amount": amount})


def _require_own(studio: Studio, supply: Supply) -> None:
    if supply.studio_id != studio.pk or supply.kind == SupplyKind.PEOPLE:
        raise InvalidInput(
            field=f"draw_{supply.pk}",
            problem=said("{supply} is no supply of {studio}.", supply=supply.name, studio=studio.name),
        )


def _named(held: Sequence[Broken]) -> str:
    """A few of them, each with its time."""
    names = [f"{each.title}, {when(each.starts_at, each.equipment.studio)}" for each in held[:MOST_NAMED]]
    return "; ".join([*names, "and more"] if len(held) > MOST_NAMED else names)


def _note(actor: Person, equipment: Equipment, what: str) -> None:
    sentence = f"{equipment.studio.name}: {equipment.name}, {equipment.get_kind_display()}, {what}"
    note(actor, equipment.studio, sentence, equipment)
