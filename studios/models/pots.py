"""The pot of a furnace: how much glass it holds, and how it is charged."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from studios.models.equipment import Equipment, EquipmentKind


class Pot(models.Model):
    """The glass in a furnace, counted from its first charge on; until then nothing is known of it.

    A charge: turned up, charged by hand several times with gaps in which it melts, fined, and brought down to
    working heat. The lengths are common practice, no source; together about 24 hours.
    """

    furnace = models.OneToOneField(Equipment, models.CASCADE, related_name="pot")
    capacity_kg = models.FloatField("holds (kg)", validators=[MinValueValidator(1.0)])
    floor_kg = models.FloatField("never below (kg)", validators=[MinValueValidator(0.0)])
    turn_up_min = models.PositiveSmallIntegerField("turning up (minutes)", default=120)
    charges = models.PositiveSmallIntegerField(
        "charged so many times", default=4, validators=[MinValueValidator(1)]
    )
    charge_min = models.PositiveSmallIntegerField(
        "each charge (minutes)", default=30, validators=[MinValueValidator(1)], help_text="Staffed."
    )
    gap_min = models.PositiveSmallIntegerField(
        "between two charges (minutes)", default=90, help_text="It melts meanwhile."
    )
    fining_min = models.PositiveSmallIntegerField("fining (minutes)", default=720)
    coming_down_min = models.PositiveSmallIntegerField("coming down (minutes)", default=210)
    charging_c = models.FloatField("charged at (°C)", default=1260.0)

    class Meta:
        ordering = ["furnace"]
        constraints = [
            models.CheckConstraint(
                name="pot_holds_more_than_its_floor",
                condition=Q(capacity_kg__gt=F("floor_kg")),
                violation_error_message="A pot holds more than its floor.",
            ),
            models.CheckConstraint(name="pot_is_charged", condition=Q(charges__gte=1, charge_min__gte=1)),
        ]

    def __str__(self) -> str:
        return f"pot of {self.furnace}: {self.capacity_kg:g} kg"

    def clean(self) -> None:
        """Only a furnace has a pot."""
        if self.furnace_id and self.furnace.kind != EquipmentKind.FURNACE:
            raise ValidationError({"furnace": "Only a furnace has a pot."})
