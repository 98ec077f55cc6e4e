"""Entries of the audit."""

from __future__ import annotations

from rest_framework import serializers

from scheduling.api.serializers.people import PersonLineSerializer
from scheduling.models import AuditEntry


class AuditEntrySerializer(serializers.ModelSerializer[AuditEntry]):
    """One thing that was done, by whom, from where, and to what."""

    studio = serializers.SlugField(source="studio.slug", read_only=True)
    time_zone = serializers.CharField(source="studio.time_zone", read_only=True)
    actor = PersonLineSerializer(
        read_only=True, allow_null=True, help_text="Null where nobody asked: a deadline passed."
    )

    class Meta:
        model = AuditEntry
        fields = ["at", "studio", "time_zone", "actor", "face", "did", "kind", "subject", "said"]
        read_only_fields = fields
