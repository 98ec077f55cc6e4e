"""Calibrations: what a log says of a piece of equipment, and the record that was made of it."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studios.models.equipment import Equipment, ThermalRecord
from studios.models.people import Person


class Ranges(models.TextChoices):
    """One time constant throughout, or one above the split and one below it."""

    ONE = "one", _("one range")
    TWO = "two", _("two ranges")


class Calibration(models.Model):
    """A log that was fitted: what was left out of it, what was found in it, and the fits that it gave.

    It changes nothing until somebody makes one of its fits the record from a day on. The log itself is not
    kept, only as many of its readings as a drawing shows.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    equipment = models.ForeignKey(Equipment, models.CASCADE, related_name="calibrations")
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="calibrations")
    made_at = models.DateTimeField(default=timezone.now)
    file_name = models.CharField(max_length=120)
    reading_count = models.PositiveIntegerField()
    ambient_c = models.FloatField("ambient during the log (°C)")
    door_c = models.FloatField("door temperature judged by (°C)")
    readings = models.JSONField(default=list, help_text="Minutes from the first reading, °C; thinned.")
    notices = models.JSONField(default=list, help_text="What was left out or moved, and why.")
    stretches = models.JSONField(default=list)
    one_range = models.JSONField()
    two_range = models.JSONField(null=True, blank=True)
    offered = models.CharField(max_length=3, choices=Ranges.choices)
    record = models.OneToOneField(
        ThermalRecord, models.SET_NULL, null=True, blank=True, related_name="calibration"
    )
    accepted_ranges = models.CharField(max_length=3, choices=Ranges.choices, blank=True)
    accepted_by = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="accepted_calibrations"
    )
    accepted_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return f"{self.file_name} for {self.equipment}"

    def fit(self, ranges: str) -> dict[str, Any] | None:
        """One of its fits as it is stored; none where the log cannot tell two ranges apart."""
        return self.two_range if ranges == Ranges.TWO else self.one_range
