"""Sign-offs: for which kinds of its equipment a studio has found somebody fit."""

from __future__ import annotations

from collections.abc import Collection

from scheduling.errors import InvalidInput
from scheduling.services.messages import tell
from scheduling.services.set_up.beginning import begin, note
from scheduling.services.transactions import lock, one_write
from studios.models import EquipmentKind, Person, Qualification, Studio
from studios.said import said
from studios.selectors import people_known_at


@one_write
def sign_off(*, actor: Person, person: Person, studio: Studio, kinds: Collection[str]) -> frozenset[str]:
    """Somebody is signed off for exactly these kinds from now on, and told; what is booked stands.

    Returns the kinds. Raises NotAllowed or InvalidInput.
    """
    begin(actor, "keep-people", studio)
    lock(people=[person.pk])
    if not people_known_at(studio).filter(pk=person.pk).exists():
        raise InvalidInput(
            field="person", problem=said("Choose somebody who belongs to {studio}.", studio=studio.name)
        )
    if strange := set(kinds) - set(EquipmentKind.values):
        raise InvalidInput(
            field="kinds", problem=said("There is no equipment of the kind {kind}.", kind=min(strange))
        )
    rows = Qualification.objects.filter(person=person, studio=studio)
    before = frozenset(rows.values_list("kind", flat=True))
    if before == set(kinds):
        return before
    rows.exclude(kind__in=kinds).delete()
    for kind in sorted(set(kinds) - before):
        Qualification.objects.create(person=person, studio=studio, kind=kind)
    _say(actor, person, studio, kinds)
    return frozenset(kinds)


def _say(actor: Person, person: Person, studio: Studio, kinds: Collection[str]) -> None:
    named = ", ".join(str(EquipmentKind(kind).label) for kind in sorted(kinds)) or "no equipment"
    note(actor, studio, f"{studio.name}: {person.name} is signed off for {named}", person)
    if person != actor:
        tell(
            person=person,
            subject=f"Your sign-offs at {studio.name}",
            body=f"At {studio.name} you are now signed off for: {named}.\n",
        )
