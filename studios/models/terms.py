"""Terms of a studio, what it asks people to know about safety, and who has said that they know it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from studios.models.places import Studio


class Term(models.Model):
    """A stretch of a studio's year, by its own days; what is asked once a term is asked anew in the next."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="terms")
    name = models.CharField(max_length=60)
    first_day = models.DateField()
    last_day = models.DateField()

    class Meta:
        ordering = ["studio", "first_day"]
        constraints = [
            models.UniqueConstraint(fields=["studio", "name"], name="term_once"),
            models.CheckConstraint(
                name="term_days_in_order",
                condition=Q(last_day__gte=F("first_day")),
                violation_error_message="The last day must not be before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.first_day} to {self.last_day}"


class SafetyText(models.Model):
    """What a studio wants read before somebody works there; a new version is a new row, none is changed.

    The one in force is the last that has begun. A studio without any asks for nothing.
    """

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="safety_texts")
    version = models.PositiveIntegerField()
    body = models.TextField()
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["studio", "-version"]
        constraints = [models.UniqueConstraint(fields=["studio", "version"], name="safety_version_once")]

    def __str__(self) -> str:
        return f"{self.studio}, version {self.version}"


class Acknowledgement(models.Model):
    """A person has read a studio's safety text, in one version; it counts for a term.

    Where the studio has no term on the day it counts for that calendar year, by the studio's clock.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="acknowledgements")
    text = models.ForeignKey(SafetyText, models.PROTECT, related_name="acknowledgements")
    first_day = models.DateField(help_text="It counts from this day,")
    last_day = models.DateField(help_text="to this one.")
    acknowledged_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-acknowledged_at", "-id"]
        constraints = [
            models.UniqueConstraint(fields=["person", "text", "first_day"], name="acknowledged_once"),
            models.CheckConstraint(
                name="acknowledgement_days_in_order", condition=Q(last_day__gte=F("first_day"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.text}"
