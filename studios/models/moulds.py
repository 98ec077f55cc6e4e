"""Moulds that pieces sink into, or are cast in."""

from __future__ import annotations

import uuid

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from studios.models.places import Studio


class Mould(models.Model):
    """Moulds of one form that a studio has: each holds so many pieces in a firing."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="moulds")
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(max_length=60)
    count = models.PositiveSmallIntegerField("how many there are", default=1)
    holds = models.PositiveSmallIntegerField("pieces in each", default=1)
    length_mm = models.PositiveIntegerField(
        "length on the shelf (mm)", validators=[MinValueValidator(5), MaxValueValidator(5000)]
    )
    width_mm = models.PositiveIntegerField(
        "width on the shelf (mm)", validators=[MinValueValidator(5), MaxValueValidator(5000)]
    )
    round = models.BooleanField("round; its length is its diameter", default=False)
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["studio", "name"]
        constraints = [
            models.UniqueConstraint(fields=["studio", "name"], name="mould_name_once"),
            models.CheckConstraint(
                name="round_mould_has_a_diameter",
                condition=Q(round=False) | Q(length_mm=F("width_mm")),
                violation_error_message="A round mould is as wide as it is long.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def capacity(self) -> int:
        """The pieces that all of them hold in one firing."""
        return self.count * self.holds

    def clean(self) -> None:
        """What holds nothing is no mould."""
        if not self.holds:
            raise ValidationError({"holds": "A mould holds at least one piece."})
