"""What was done at a studio, as its manager reads it: the newest first."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.db.models import QuerySet

from scheduling.engine.clock import moment, whole_day
from scheduling.models import AuditEntry
from studios.models import Person, Studio
from studios.selectors import studios_where

READS = "see-audit"


def audited_by(person: Person) -> QuerySet[Studio]:
    """The studios whose audit a person reads."""
    return studios_where(person, READS).order_by("name", "id")


def entries_read_by(person: Person) -> QuerySet[AuditEntry]:
    """All entries of these studios, the newest first."""
    found = AuditEntry.objects.filter(studio__in=audited_by(person).order_by())
    return found.select_related("studio", "actor").order_by("-at", "-id")


def entries_at(
    studio: Studio, *, day: dt.date | None = None, kind: str = "", subject: UUID | None = None
) -> QuerySet[AuditEntry]:
    """A studio's entries, the newest first: of a day by its clock, of one kind of thing, or of one thing."""
    found = AuditEntry.objects.filter(studio=studio).select_related("actor")
    if day is not None:
        midnight, next_midnight = whole_day(day, studio.zone)
        found = found.filter(at__gte=moment(midnight), at__lt=moment(next_midnight))
    if kind:
        found = found.filter(kind=kind)
    if subject is not None:
        found = found.filter(subject=subject)
    return found.order_by("-at", "-id")


def kinds_at(studio: Studio) -> list[str]:
    """The kinds of things that something was done to there, by name."""
    kinds = AuditEntry.objects.filter(studio=studio).order_by("kind").values_list("kind", flat=True)
    return list(kinds.distinct())
