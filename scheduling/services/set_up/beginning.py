"""How every service of the set-up begins and ends: who may, under the studio's lock; checked; noted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar
from uuid import NAMESPACE_URL, UUID, uuid5

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import Model

from scheduling.errors import InvalidInput, NotAllowed
from scheduling.services import audit
from studios.models import Person, Studio
from studios.said import said
from studios.selectors import may

ROLES = {"set-up": "manager", "set-up-equipment": "technician", "keep-people": "manager"}
Row = TypeVar("Row", bound=Model)


@dataclass(kw_only=True)
class SetUp:
    """What the audit names where a row has no uid of its own: the set-up of a studio as a whole."""

    uid: UUID


def set_up_of(studio: Studio) -> SetUp:
    """The same uid for a studio at all times."""
    return SetUp(uid=uuid5(NAMESPACE_URL, f"studio/{studio.pk}"))


def begin(actor: Person, action: str, studio: Studio) -> None:
    """Only who may goes on, and until the transaction ends nobody else sets this studio up.

    Raises NotAllowed.
    """
    if not may(actor, action, studio):
        raise NotAllowed(who=actor.name, what=said("set this up"), studio=studio.name, role=ROLES[action])
    list(Studio.objects.filter(pk=studio.pk).select_for_update(no_key=True).values_list("pk", flat=True))


def checked(row: Row) -> Row:
    """The model's own rules hold, asked under the lock. Raises InvalidInput with the first that does not."""
    try:
        row.full_clean()
    except ValidationError as error:
        field, problems = next(iter(error.message_dict.items()))
        raise InvalidInput(
            field=None if field == NON_FIELD_ERRORS else field, problem=" ".join(problems)
        ) from error
    return row


def note(actor: Person, studio: Studio, sentence: str, subject: audit.Named | None = None) -> None:
    """What was set up, in the transaction that does it."""
    audit.note(actor=actor, did="set-up", subject=subject or set_up_of(studio), studio=studio, said=sentence)
