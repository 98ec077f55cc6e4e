"""A studio is opened, and what is said of it as a whole is changed."""

from __future__ import annotations

from collections.abc import Collection

from scheduling.errors import NotAllowed
from scheduling.selectors.set_up import may_open
from scheduling.services.set_up.beginning import begin, checked, note
from scheduling.services.set_up.names import free_slug
from scheduling.services.transactions import one_write
from studios.models import Membership, Person, Role, Studio
from studios.said import said

# Words that stand in an address where a studio's short name stands.
RESERVED = frozenset({"new"})


@one_write
def open_studio(*, actor: Person, studio: Studio) -> Studio:
    """A further place of the network; whoever opens it is its first manager.

    That is whoever runs the server, or manages a studio already. Raises NotAllowed or InvalidInput.
    """
    if not may_open(actor):
        raise NotAllowed(
            who=actor.name, what=said("open a studio"), studio=said("this network"), role="manager"
        )
    studio.slug = free_slug(Studio, studio.name, RESERVED)
    checked(studio).save()
    Membership.objects.create(person=actor, studio=studio, role=Role.MANAGER)
    note(actor, studio, f"{studio.name} is opened")
    return studio


@one_write
def change_studio(*, actor: Person, studio: Studio, only: Collection[str]) -> Studio:
    """What was changed of a studio holds from now on; what is booked keeps its hours, prices and deadlines.

    Only the columns named are written, so two who change different things undo nothing of each other's.
    Raises NotAllowed or InvalidInput.
    """
    begin(actor, "set-up", studio)
    checked(studio).save(update_fields=list(only))
    changed = ", ".join(f"{name} {getattr(studio, name)}" for name in only)
    note(actor, studio, f"{studio.name}: {changed}")
    return studio
