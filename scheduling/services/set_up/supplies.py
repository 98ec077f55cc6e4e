"""Supplies: the greatest rate of each, its content, and when one may be taken off the book."""

from __future__ import annotations

from scheduling.errors import InUse, InvalidInput
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.transactions import lock, one_write
from studios.models import Person, Supply
from studios.said import said


@one_write
def keep_supply(*, actor: Person, supply: Supply) -> Supply:
    """A supply is written as it is given; with a smaller limit what is booked keeps its share.

    Its kind, and so its unit, stays what it was: what draws on it is counted in it. Raises NotAllowed or
    InvalidInput.
    """
    begin(actor, "set-up-equipment", supply.studio)
    lock(supplies=[supply.pk] if supply.pk else [])
    if Supply.objects.filter(pk=supply.pk).exclude(kind=supply.kind).exists():
        raise InvalidInput(
            field="kind", problem=said("A supply stays of its kind; add another one beside it.")
        )
    checked(supply).save()
    note(actor, supply.studio, f"{supply.studio.name}: {supply.name}, {supply.limit:g} {supply.unit}", supply)
    return supply


@one_write
def drop_supply(*, actor: Person, supply: Supply) -> None:
    """A supply on which nothing draws goes off the book. Raises NotAllowed or InUse."""
    begin(actor, "set-up-equipment", supply.studio)
    lock(supplies=[supply.pk])
    drawing = [draw.equipment.name for draw in supply.draws.select_related("equipment")]
    standing = list(supply.equipment_in_it.values_list("name", flat=True))
    if drawing or standing:
        raise InUse(
            what=supply.name,
            by=", ".join([*drawing, *standing]),
            instead=said("Take it out of their set-up first."),
        )
    if supply.uses.exists() or supply.refills.exists():
        raise InUse(
            what=supply.name,
            by=said("what was booked or refilled"),
            instead=said("It stays in the book; nothing new draws on it."),
        )
    note(actor, supply.studio, f"{supply.studio.name}: {supply.name} no longer", supply)
    supply.delete()
