"""What is written of places under a lock."""

from __future__ import annotations

from django.db.models import Max

from studios.models import SafetyText, Studio


def next_version(studio: Studio) -> int:
    """The number of a studio's next safety text: one after the last, and nobody else's.

    The studio is locked until the transaction of the caller ends.
    """
    list(Studio.objects.filter(pk=studio.pk).select_for_update(no_key=True).values_list("pk", flat=True))
    last = SafetyText.objects.filter(studio=studio).aggregate(last=Max("version"))["last"]
    return (last or 0) + 1
