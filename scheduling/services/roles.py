"""Roles at a studio: its manager confirms new ones, gives further ones and ends them."""

from __future__ import annotations

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.services import audit
from scheduling.services.messages import tell
from scheduling.services.transactions import lock, one_write
from studios.models import EndedRole, Membership, Person, Role, Studio
from studios.said import said, several_said
from studios.selectors import may, people_known_at


@one_write
def confirm_role(*, actor: Person, membership: Membership) -> Membership:
    """A role that somebody took is no longer new; a second time changes nothing. Raises NotAllowed."""
    _require_manager(actor, membership.studio)
    if Membership.objects.filter(pk=membership.pk, new_since__isnull=False).update(new_since=None):
        _note(actor, "confirm-role", membership)
    membership.new_since = None
    return membership


@one_write
def give_role(*, actor: Person, person: Person, studio: Studio, role: str) -> Membership:
    """A further role for somebody whom the studio knows. Raises NotAllowed or InvalidInput."""
    _require_manager(actor, studio)
    if role not in Role.values:
        raise InvalidInput(field="role", problem=said("Choose a role."))
    lock(people=[person.pk])
    if not people_known_at(studio).filter(pk=person.pk).exists():
        raise InvalidInput(
            field="person", problem=said("Choose somebody who belongs to {studio}.", studio=studio.name)
        )
    row, new = Membership.objects.get_or_create(person=person, studio=studio, role=role)
    if not new:
        raise InvalidInput(
            field="role",
            problem=said(
                "{person} is {role} at {studio} already.",
                person=person.name,
                role=Role(role).label,
                studio=studio.name,
            ),
        )
    _tell(
        person,
        studio,
        said("From now on you are {role} at {studio}.", role=Role(role).label, studio=studio.name),
    )
    _note(actor, "give-role", row)
    return row


@one_write
def end_role(*, actor: Person, membership: Membership) -> EndedRole:
    """Somebody has this role no longer; what is booked stands until it is called off or given back.

    Nobody ends their own role as manager: a studio would be left with none. Raises NotAllowed, InvalidInput.
    """
    _require_manager(actor, membership.studio)
    if membership.person == actor and membership.role == Role.MANAGER:
        raise InvalidInput(
            problem=said("Your own role as manager is ended by another manager of the studio.")
        )
    lock(people=[membership.person_id])
    if not Membership.objects.filter(pk=membership.pk).delete()[0]:
        raise InvalidInput(problem=said("This role has been ended already."))
    studio = membership.studio
    _tell(
        membership.person,
        studio,
        said("You are no longer {role} at {studio}.", role=Role(membership.role).label, studio=studio.name),
    )
    _note(actor, "end-role", membership)
    return EndedRole.objects.create(
        person=membership.person, studio=studio, role=membership.role, ended_by=actor
    )


def _require_manager(actor: Person, studio: Studio) -> None:
    if not may(actor, "keep-people", studio):
        raise NotAllowed(who=actor.name, what=said("change roles"), studio=studio.name, role=said("manager"))


def _note(actor: Person, did: str, role: Membership) -> None:
    person, studio = role.person, role.studio
    noted = f"{person.name}, {role.role} at {studio.name}"
    audit.note(actor=actor, did=did, subject=person, studio=studio, said=noted)


def _tell(person: Person, studio: Studio, sentence: str) -> None:
    tell(
        person=person,
        subject=said("Your roles at {studio}", studio=studio.name),
        body=several_said([sentence, ""], "\n"),
    )
