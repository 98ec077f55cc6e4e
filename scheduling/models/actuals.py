"""What really happened, as recorded by whoever was there, and where finished pieces lie."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models.firings import Firing, Load


class ActualKind(models.TextChoices):
    """What can be recorded of a firing."""

    LIT = "lit", _("lit")
    LAST_IN = "last-in", _("last piece in")
    SOAK_STARTED = "soak-started", _("soak started")
    STOPPED_EARLY = "stopped-early", _("stopped early")
    POWER_LOST = "power-lost", _("power lost")
    TEMPERATURE = "temperature", _("temperature read")
    OPENED = "opened", _("opened")
    UNLOADED = "unloaded", _("unloaded")


class Actual(models.Model):
    """One thing that really happened in a firing, and when; rows are only added, and struck if wrong."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    firing = models.ForeignKey(Firing, models.CASCADE, related_name="actuals")
    kind = models.CharField(max_length=13, choices=ActualKind.choices)
    at = models.DateTimeField()
    read_c = models.FloatField("temperature read (°C)", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="actuals")
    recorded_at = models.DateTimeField(default=timezone.now)
    struck_at = models.DateTimeField(null=True, blank=True, help_text="It was entered by mistake.")

    class Meta:
        ordering = ["firing", "at", "id"]

    def __str__(self) -> str:
        return f"{self.kind} at {self.at}"


class PickUp(models.Model):
    """Where the pieces of one load lie once they are unloaded, and from when they can be collected."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    load = models.OneToOneField(Load, models.CASCADE, related_name="pick_up")
    shelf = models.CharField(max_length=60)
    ready_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["ready_at", "id"]

    def __str__(self) -> str:
        return f"{self.load}: {self.shelf}"


class Collection(models.Model):
    """One person's pieces of a load: to be collected, or collected, and who handed them over."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    pick_up = models.ForeignKey(PickUp, models.CASCADE, related_name="collections")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="collections")
    collected_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.CharField(max_length=80, blank=True, help_text="Who took them, as they signed.")
    noted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pick_up", "person"]
        constraints = [
            models.UniqueConstraint(fields=["pick_up", "person"], name="collected_once"),
            models.CheckConstraint(
                name="handed_over_by_somebody",
                condition=Q(collected_at__isnull=True) | Q(noted_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.pick_up}"
