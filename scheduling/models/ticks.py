"""Ticks on the day's round: that somebody has seen to a duty, and when."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone

from scheduling.models.actuals import Actual
from studios.models import Studio


class Tick(models.Model):
    """Somebody has seen to a duty at one piece of equipment. A tick taken back stays, and counts no more.

    A duty follows from what is booked and is no row: `duty` names it by what is done, to what and for what,
    so that it stays the same when its hour moves. What really happened is an actual; one that was recorded
    in the same step stands beside the tick.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="ticks")
    duty = models.CharField(max_length=80)
    said = models.CharField(max_length=200, help_text="The duty as it was read.")
    due_at = models.DateTimeField(help_text="When it was due, as it stood then.")
    ticked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="ticks")
    ticked_at = models.DateTimeField(default=timezone.now)
    actual = models.ForeignKey(Actual, models.SET_NULL, null=True, blank=True, related_name="ticks")
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True, help_text="It was ticked by mistake.")

    class Meta:
        ordering = ["due_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["studio", "duty"], condition=Q(taken_back_at__isnull=True), name="ticked_once"
            ),
            models.CheckConstraint(
                name="taken_back_by_somebody",
                condition=Q(taken_back_at__isnull=True, taken_back_by__isnull=True)
                | Q(taken_back_at__isnull=False, taken_back_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.said
