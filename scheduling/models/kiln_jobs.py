"""Kiln jobs: work begun elsewhere, its firings and its handwork, and the answers sought for it."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.engine.kiln_work.routes import Handwork, RouteName
from scheduling.models.bookings import Booking
from studios.models import Equipment, GlassType, Mould, Studio

if TYPE_CHECKING:
    from scheduling.models.pieces import Piece

ROUTES = [(name.value, name.value.replace("-", " ")) for name in RouteName]
HANDWORK = [(does.value, does.value.replace("-", " ")) for does in Handwork]


class KilnJobStatus(models.TextChoices):
    """A kiln job is asked for; once its firings are booked it is booked; done when all is handed over."""

    ASKED = "asked", _("asked")
    BOOKED = "booked", _("booked")
    DONE = "done", _("done")
    CANCELLED = "cancelled", _("cancelled")


class KilnAim(models.TextChoices):
    """What is wanted most of a plan."""

    EARLIEST = "earliest", _("ready earliest")
    CHEAPEST = "cheapest", _("cheapest")
    FEWEST_VISITS = "fewest-visits", _("fewest visits")


class KilnJob(models.Model):
    """Pieces of one glass and one thickness class that come to the kilns, are fired, and go back."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    title = models.CharField(max_length=80)
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="kiln_jobs")
    studios = models.ManyToManyField(Studio, related_name="kiln_jobs", help_text="Where it may be fired.")
    glass = models.ForeignKey(GlassType, models.PROTECT, related_name="kiln_jobs")
    mixed_with = models.ManyToManyField(
        GlassType, blank=True, related_name="+", help_text="Other glasses in the same pieces."
    )
    thickness_mm = models.FloatField(validators=[MinValueValidator(0.1), MaxValueValidator(300)])
    route = models.CharField(max_length=12, choices=ROUTES)
    cold_min_each = models.PositiveSmallIntegerField(
        "cold work for each piece (minutes)",
        default=0,
        validators=[MaxValueValidator(480)],
        help_text="At the cold station, between the firings or after the last.",
    )
    arrives_at = models.DateTimeField(help_text="The pieces are at the studio.")
    due_at = models.DateTimeField(null=True, blank=True, help_text="By then they must be ready.")
    aim = models.CharField(max_length=13, choices=KilnAim.choices, default=KilnAim.EARLIEST)
    shares_space = models.BooleanField(
        "others may add pieces where a shelf has room", default=False, help_text="Until loading begins."
    )
    note = models.CharField(max_length=200, blank=True)
    status = models.CharField(max_length=10, choices=KilnJobStatus.choices, default=KilnJobStatus.ASKED)
    ready_at = models.DateTimeField(null=True, blank=True, help_text="The last piece can be handed back.")
    sequence = models.PositiveIntegerField(default=0)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-created_at", "-id"]
        constraints = [
            models.CheckConstraint(
                name="kiln_job_due_after_it_arrives",
                condition=Q(due_at__isnull=True) | Q(due_at__gt=F("arrives_at")),
                violation_error_message="It is due after it arrives.",
            )
        ]

    def __str__(self) -> str:
        return self.title


class JobSize(models.Model):
    """So many pieces of one size in a kiln job, and the mould that each sinks into."""

    job = models.ForeignKey(KilnJob, models.CASCADE, related_name="sizes")
    name = models.CharField(max_length=40, blank=True)
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(500)])
    round = models.BooleanField(default=False)
    length_mm = models.PositiveIntegerField(validators=[MinValueValidator(5), MaxValueValidator(5000)])
    width_mm = models.PositiveIntegerField(validators=[MinValueValidator(5), MaxValueValidator(5000)])
    mould = models.ForeignKey(Mould, models.PROTECT, null=True, blank=True, related_name="job_sizes")

    class Meta:
        ordering = ["job", "id"]
        constraints = [
            models.CheckConstraint(
                name="round_piece_has_a_diameter",
                condition=Q(round=False) | Q(length_mm=F("width_mm")),
                violation_error_message="A round piece is as wide as it is long.",
            )
        ]

    def __str__(self) -> str:
        size = f"Ø {self.length_mm}" if self.round else f"{self.length_mm} × {self.width_mm}"
        return f"{self.count} × {size} mm"


class KilnAnswer(models.Model):
    """A plan sought for a kiln job: for one aim, perhaps with something changed; kept while it is sought.

    `alive_at` is when whoever seeks it last said so; `stop_asked` ends the search with the best so far.
    `plan` is what `scheduling.engine.kiln_work.answers` writes; `refusal` why there is none.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    job = models.ForeignKey(KilnJob, models.CASCADE, related_name="answers")
    aim = models.CharField(max_length=13, choices=KilnAim.choices, default=KilnAim.EARLIEST)
    what_if = models.JSONField(default=dict, blank=True, help_text="What is otherwise than in the job.")
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    plan = models.JSONField(null=True, blank=True)
    refusal = models.JSONField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True, help_text="The best so far.")
    bound_at = models.DateTimeField(null=True, blank=True, help_text="No plan is ready before.")
    proven = models.BooleanField(default=False)
    stop_asked = models.BooleanField(default=False)
    started_at = models.DateTimeField(default=timezone.now)
    alive_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-started_at", "-id"]

    def __str__(self) -> str:
        return f"answer for {self.job}"


class JobStep(models.Model):
    """An attended step of a kiln job: where, when, and when it was done; at the cold station it is booked.

    Shelves are washed, and moulds prepared, for a load; cold work comes after one, on its pieces.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    job = models.ForeignKey(KilnJob, models.CASCADE, related_name="steps")
    load = models.ForeignKey("Load", models.SET_NULL, null=True, blank=True, related_name="steps")
    of: models.ManyToManyField[Piece, models.Model] = models.ManyToManyField(
        "Piece", blank=True, related_name="steps"
    )
    does = models.CharField(max_length=16, choices=HANDWORK)
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="job_steps")
    equipment = models.ForeignKey(Equipment, models.PROTECT, null=True, blank=True, related_name="job_steps")
    booking = models.OneToOneField(Booking, models.PROTECT, null=True, blank=True, related_name="job_step")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    pieces = models.PositiveIntegerField(default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.CheckConstraint(name="job_step_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))),
            models.CheckConstraint(
                name="job_step_at_equipment_is_booked",
                condition=Q(equipment__isnull=True, booking__isnull=True) | Q(equipment__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.does}: {self.job}"
