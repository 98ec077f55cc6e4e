"""Occupancies: one piece of equipment, from when to when, made of phases."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from scheduling.models.bookings import Booking
from scheduling.models.firings import Firing
from scheduling.models.stores import Charge
from studios.models import Equipment, Supply
from studios.thermal import Phase

PhaseKind = Phase
PHASES = [(phase.value, phase.value) for phase in Phase]


class Occupancy(models.Model):
    """What a booking, a firing or a charge holds; its exclusive span refuses others at the same place.

    `starts_at` to `ends_at` is all of it, cooling included. The database refuses an overlap of exclusive
    spans by itself (`scheduling.guards`). A cancelled booking keeps no occupancy.
    """

    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="occupancies")
    place = models.PositiveSmallIntegerField(default=1)
    booking = models.ForeignKey(Booking, models.CASCADE, null=True, blank=True, related_name="occupancies")
    firing = models.OneToOneField(Firing, models.CASCADE, null=True, blank=True, related_name="occupancy")
    charge = models.ForeignKey(Charge, models.CASCADE, null=True, blank=True, related_name="occupancies")
    glass_kg = models.FloatField(
        "glass drawn (kg)", default=0.0, help_text="From the pot, by its end, at this place of a furnace."
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    exclusive_from = models.DateTimeField()
    exclusive_to = models.DateTimeField()

    class Meta:
        ordering = ["equipment", "place", "starts_at"]
        verbose_name_plural = "occupancies"
        indexes = [
            models.Index(
                fields=["equipment", "place", "exclusive_from", "exclusive_to"], name="occupancy_excl"
            ),
            models.Index(fields=["equipment", "starts_at", "ends_at"], name="occupancy_by_time"),
        ]
        constraints = [
            models.CheckConstraint(
                name="occupancy_of_one_thing",
                condition=Q(booking__isnull=False, firing__isnull=True, charge__isnull=True)
                | Q(booking__isnull=True, firing__isnull=False, charge__isnull=True)
                | Q(booking__isnull=True, firing__isnull=True, charge__isnull=False),
            ),
            models.CheckConstraint(
                name="occupancy_holds_its_exclusive_span",
                condition=Q(
                    exclusive_from__gte=F("starts_at"),
                    exclusive_from__lt=F("exclusive_to"),
                    exclusive_to__lte=F("ends_at"),
                ),
            ),
            models.CheckConstraint(name="occupancy_place_from_one", condition=Q(place__gte=1)),
        ]

    def __str__(self) -> str:
        return f"{self.equipment} ({self.place}): {self.starts_at} to {self.ends_at}"


class OccupancyPhase(models.Model):
    """One closed-form piece of what the equipment does.

    The temperature runs from `from_c` to `to_c`: in a straight line when `toward_c` is empty, else
    exponentially towards `toward_c` with time constant `tau_min`. Both are empty where nothing is heated.
    """

    occupancy = models.ForeignKey(Occupancy, models.CASCADE, related_name="phases")
    kind = models.CharField(max_length=10, choices=PHASES)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    from_c = models.FloatField(null=True, blank=True)
    to_c = models.FloatField(null=True, blank=True)
    toward_c = models.FloatField(null=True, blank=True)
    tau_min = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["occupancy", "starts_at"]
        constraints = [
            models.CheckConstraint(name="phase_ends_after_start", condition=Q(ends_at__gt=F("starts_at")))
        ]

    def __str__(self) -> str:
        return f"{self.kind}: {self.starts_at} to {self.ends_at}"


class SupplyUse(models.Model):
    """What an occupancy draws from a supply, and in which minutes its controller may switch it on."""

    supply = models.ForeignKey(Supply, models.PROTECT, related_name="uses")
    occupancy = models.ForeignKey(Occupancy, models.CASCADE, related_name="supply_uses")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    amount = models.FloatField()

    class Meta:
        ordering = ["supply", "starts_at"]
        indexes = [models.Index(fields=["supply", "starts_at", "ends_at"], name="supply_use_by_time")]
        constraints = [
            models.CheckConstraint(
                name="supply_use_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))
            )
        ]

    def __str__(self) -> str:
        return f"{self.amount:g} {self.supply.unit} of {self.supply}"
