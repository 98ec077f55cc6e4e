"""Firings and the loads that share them."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from scheduling.models.bookings import BookingStatus, Session
from scheduling.models.courses import RECIPES, SHAPES
from scheduling.models.kiln_jobs import KilnJob
from studios.models import Equipment, GlassType


class Firing(models.Model):
    """One run of a kiln or annealer, door closed to door open; it lives while it has a load."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    equipment = models.ForeignKey(Equipment, models.PROTECT, related_name="firings")
    recipe = models.CharField(max_length=12, choices=RECIPES)
    hold_c = models.FloatField("holding temperature (°C)")
    at_hold_at = models.DateTimeField(help_text="Ready for the first piece; a kiln: door closed.")
    last_in_at = models.DateTimeField(
        help_text="The last piece is in; the soak (a kiln: the program) begins."
    )
    below_strain_at = models.DateTimeField(
        null=True, help_text="Below the strain point: what stress there is, stays."
    )
    cool_at = models.DateTimeField(help_text="Cool enough to open.")
    unload_at = models.DateTimeField(help_text="Somebody who may unload begins to.")
    segments = models.JSONField(default=list, help_text="The program as a controller takes it.")
    asked = models.JSONField(
        default=list, help_text="What the program asks for: minutes from the last piece in, °C."
    )
    lags = models.JSONField(default=list, help_text="Where the equipment cannot follow.")
    stress = models.JSONField(default=list, help_text="The stress it leaves and passes, piece by piece.")
    opened_at = models.DateTimeField(null=True, blank=True, help_text="Somebody has opened it.")
    unloaded_at = models.DateTimeField(null=True, blank=True, help_text="Its pieces are out.")
    takes_more_until = models.DateTimeField(
        null=True, blank=True, help_text="Open shelf space: others may add pieces until then."
    )
    shelves_kept = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        help_text="So many shelves, from below, are for its own pieces; what others add stands above them.",
    )
    broken_at = models.DateTimeField(
        null=True, blank=True, help_text="It broke off between annealing and strain point."
    )
    kept_stress_mpa = models.FloatField()
    energy_kwh = models.FloatField()
    sequence = models.PositiveIntegerField(default=0)
    status = models.CharField(max_length=10, choices=BookingStatus.choices, default=BookingStatus.BOOKED)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["at_hold_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="firing_moments_in_order",
                condition=Q(
                    at_hold_at__lte=F("last_in_at"), last_in_at__lt=F("cool_at"), cool_at__lte=F("unload_at")
                ),
            )
        ]

    def __str__(self) -> str:
        return f"{self.recipe} firing in {self.equipment}"


class Load(models.Model):
    """Pieces put into a firing: their glass, thickness, room on the shelf and whose they are."""

    firing = models.ForeignKey(Firing, models.CASCADE, related_name="loads")
    session = models.ForeignKey(Session, models.CASCADE, null=True, blank=True, related_name="loads")
    job = models.ForeignKey(KilnJob, models.CASCADE, null=True, blank=True, related_name="loads")
    job_step = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="Which firing of its route this is, counted from 1."
    )
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="loads")
    glass = models.ForeignKey(GlassType, models.PROTECT, related_name="loads")
    shape = models.CharField(max_length=16, choices=SHAPES)
    thickness_mm = models.FloatField(validators=[MinValueValidator(0.1)])
    foot_mm = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    pieces = models.PositiveIntegerField()
    footprint_cm2 = models.PositiveIntegerField()
    in_from = models.DateTimeField()
    in_until = models.DateTimeField()

    class Meta:
        ordering = ["in_from", "id"]
        constraints = [
            models.CheckConstraint(name="load_in_order", condition=Q(in_until__gte=F("in_from"))),
            models.UniqueConstraint(fields=["firing", "session"], name="load_once_a_session"),
            models.CheckConstraint(
                name="load_of_one_thing", condition=Q(session__isnull=True) | Q(job__isnull=True)
            ),
            models.CheckConstraint(
                name="load_of_a_job_has_its_step",
                condition=Q(job__isnull=True, job_step__isnull=True)
                | Q(job__isnull=False, job_step__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.pieces} pieces, {self.thickness_mm:g} mm {self.glass}"
