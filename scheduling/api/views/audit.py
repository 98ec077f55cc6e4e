"""The audit: who did what, read by managers."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers

from scheduling.api.fields import SlugField
from scheduling.api.operations import operation
from scheduling.api.paging import PageQuery
from scheduling.api.resource import Resource
from scheduling.api.serializers.audit import AuditEntrySerializer
from scheduling.api.strict import Window
from scheduling.models import AuditEntry
from scheduling.selectors.audit import audited_by, entries_read_by
from scheduling.services.audit import require_reader
from studios.models import Person


class AuditQuery(Window, PageQuery):
    """Which entries."""

    studio = SlugField(among=audited_by, what="studio", required=False)
    kind = serializers.RegexField(
        "^[a-z]{1,20}$", required=False, help_text="Of one kind of thing, such as session or seat."
    )
    subject = serializers.UUIDField(
        required=False, help_text="The uid of what it was done to: all that happened to one thing."
    )


class AuditEntryView(Resource):
    """What was done at the studios that you manage; entries are added by what is done, and never change."""

    @operation(answer=AuditEntrySerializer, query=AuditQuery, paged=True)
    def list(self, person: Person, given: dict[str, Any]) -> QuerySet[AuditEntry]:
        """Entries, the newest first; `from` is included, `to` is not."""
        require_reader(person)
        names = {"from": "at__gte", "to": "at__lt"} | {name: name for name in ("studio", "kind", "subject")}
        asked = {names[name]: value for name, value in given.items() if name in names}
        return entries_read_by(person).filter(**asked)
