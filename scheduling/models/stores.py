"""What fills up again what bookings use: deliveries and change-overs of supplies, charges of a furnace."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models.bookings import Booking, BookingStatus
from studios.models import Equipment, Supply


class RefillStatus(models.TextChoices):
    """A refill is planned, or somebody has recorded that it is done; both are reckoned with."""

    PLANNED = "planned", _("planned")
    DONE = "done", _("done")


class Refill(models.Model):
    """From this minute on a supply has a known content: a delivery, or a change-over to full cylinders.

    `booking` is the class that brought a change-over; it goes when nobody needs it any more.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    supply = models.ForeignKey(Supply, models.CASCADE, related_name="refills")
    at = models.DateTimeField()
    content_after = models.FloatField(validators=[MinValueValidator(0.0)])
    status = models.CharField(max_length=8, choices=RefillStatus.choices, default=RefillStatus.PLANNED)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="refills")
    recorded_at = models.DateTimeField(default=timezone.now)
    booking = models.ForeignKey(Booking, models.SET_NULL, null=True, blank=True, related_name="refills")

    class Meta:
        ordering = ["supply", "at"]
        constraints = [models.UniqueConstraint(fields=["supply", "at"], name="refill_once_a_minute")]

    def __str__(self) -> str:
        return f"{self.supply}: {self.content_after:g} {self.supply.content_unit}"


class ChargeRows(models.QuerySet["Charge"]):
    """Charges, and levels of glass that were measured: these take no place of the furnace."""

    def charges(self) -> ChargeRows:
        """What was booked as a charge, also if it was called off."""
        return self.filter(~Q(status=BookingStatus.BOOKED) | Q(occupancies__isnull=False)).distinct()

    def measured(self) -> ChargeRows:
        """The levels as measured, at the minute in which each row ends."""
        return self.filter(status=BookingStatus.BOOKED, occupancies__isnull=True)


class Charge(models.Model):
    """A furnace is charged: all its places are taken from turn-up to the end of coming down.

    A level of glass as somebody measured it is entered here too: it ends in that minute and takes no place.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    furnace = models.ForeignKey(Equipment, models.PROTECT, related_name="charges")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField(help_text="Usable again.")
    level_after_kg = models.FloatField("level after it (kg)", validators=[MinValueValidator(0.0)])
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="charges")
    status = models.CharField(max_length=10, choices=BookingStatus.choices, default=BookingStatus.BOOKED)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField(default=timezone.now)

    objects = ChargeRows.as_manager()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["furnace", "ends_at"], name="charge_by_time")]
        constraints = [
            models.CheckConstraint(name="charge_ends_after_start", condition=Q(ends_at__gt=F("starts_at")))
        ]

    def __str__(self) -> str:
        return f"charge of {self.furnace}"
