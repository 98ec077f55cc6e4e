"""Who did what to which booking: one row for each act, in the transaction that acts.

a face says which it is (acting) --> a service writes and notes what it did --> a row that nobody changes
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Protocol
from uuid import UUID

from scheduling.errors import NotAllowed
from scheduling.models import AuditEntry, Face
from scheduling.prepared import added
from scheduling.selectors.audit import audited_by
from studios.models import Person, Studio
from studios.said import said
from studios.selectors import studios_of

LONGEST = 300
_face: ContextVar[Face] = ContextVar("face", default=Face.COMMAND)


class Named(Protocol):
    """What is done something to: a row with a uid."""

    uid: UUID


@contextmanager
def acting(face: Face) -> Iterator[None]:
    """What is done meanwhile was asked for here; without this it was a command."""
    before = _face.set(face)
    try:
        yield
    finally:
        _face.reset(before)


def present() -> Face:
    """The face at which we are."""
    return _face.get()


def note(*, actor: Person | None, did: str, subject: Named, studio: Studio, said: str) -> None:
    """Note what somebody did, or None where a deadline passed by itself; `said` is the sentence to be read.

    `did` is one word, or words with hyphens: reserve, give-back, book, move, call-off.
    """
    added(entry(actor=actor, did=did, subject=subject, studio=studio, said=said))


def entry(*, actor: Person | None, did: str, subject: Named, studio: Studio, said: str) -> AuditEntry:
    """What `note` writes, not yet written."""
    return AuditEntry(
        studio=studio,
        actor=actor,
        face=present(),
        did=did,
        kind=type(subject).__name__.lower(),
        subject=subject.uid,
        said=said[:LONGEST],
    )


def note_of_account(*, actor: Person | None, did: str, subject: Named, person: Person, said: str) -> None:
    """What was done to somebody's account, at each studio where the person has a role.

    An account belongs to no single studio. Who belongs to none is a stranger, and leaves no entry.
    """
    for studio in Studio.objects.filter(memberships__person=person).distinct().order_by("pk"):
        note(actor=actor, did=did, subject=subject, studio=studio, said=said)


def require_reader(person: Person) -> None:
    """Raises NotAllowed to whoever reads the audit of no studio."""
    if not audited_by(person).exists():
        own = " or ".join(studio.name for studio in studios_of(person)) or "any studio"
        raise NotAllowed(who=person.name, what=said("read the audit"), studio=own, role=said("manager"))
