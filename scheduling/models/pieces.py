"""Pieces: each has a maker, a label, a place and a history."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models.bookings import Session
from scheduling.models.firings import Load
from scheduling.models.kiln_jobs import JobSize, KilnJob


class PieceState(models.TextChoices):
    """From the maker's table to the maker's hands; broken or given up is an end, too."""

    EXPECTED = "expected", _("expected")
    HERE = "here", _("at the studio")
    IN_KILN = "in-kiln", _("in the kiln")
    READY = "ready", _("ready to be collected")
    HANDED_OVER = "handed-over", _("handed over")
    LOST = "lost", _("broken or lost")


class Piece(models.Model):
    """One piece of a kiln job or of a class: whose it is, where it is, and how it is.

    Its label is unique: a short code that can be written on masking tape and read aloud.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    label = models.CharField(max_length=12, unique=True)
    job = models.ForeignKey(KilnJob, models.CASCADE, null=True, blank=True, related_name="pieces")
    size = models.ForeignKey(JobSize, models.PROTECT, null=True, blank=True, related_name="pieces")
    number = models.PositiveSmallIntegerField(help_text="Within its kiln job or class, counted from 1.")
    session = models.ForeignKey(Session, models.CASCADE, null=True, blank=True, related_name="pieces")
    maker = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    maker_name = models.CharField(max_length=80, blank=True, help_text="Of a maker without an account.")
    state = models.CharField(max_length=12, choices=PieceState.choices, default=PieceState.EXPECTED)
    place = models.CharField(max_length=60, blank=True, help_text="Table, box, shelf 2 of a kiln, shelf.")
    damage = models.CharField(max_length=200, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)
    handed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    signed_by = models.CharField(max_length=80, blank=True, help_text="Who took it, as they signed.")
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["job", "session", "number", "id"]
        constraints = [
            models.CheckConstraint(
                name="piece_of_one_thing",
                condition=Q(job__isnull=False, session__isnull=True)
                | Q(job__isnull=True, session__isnull=False),
            ),
            models.UniqueConstraint(fields=["job", "number"], name="piece_number_once_a_job"),
            models.UniqueConstraint(fields=["session", "number"], name="piece_number_once_a_class"),
            models.CheckConstraint(
                name="piece_handed_over_by_somebody",
                condition=~Q(state=PieceState.HANDED_OVER)
                | Q(handed_over_at__isnull=False, handed_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.label


class PieceEvent(models.Model):
    """What happened to a piece: rows are only added."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="events")
    at = models.DateTimeField(default=timezone.now)
    state = models.CharField(max_length=12, choices=PieceState.choices)
    place = models.CharField(max_length=60, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["piece", "at", "id"]

    def __str__(self) -> str:
        return f"{self.piece}: {self.state}"


class Stand(models.Model):
    """Where a piece stands in a firing: its shelf, and its left front corner from that of the shelf.

    Hot pieces of a class stand where there is room; their places are not given.
    """

    load = models.ForeignKey(Load, models.CASCADE, related_name="stands")
    piece = models.ForeignKey(Piece, models.CASCADE, related_name="stands")
    level = models.PositiveSmallIntegerField(null=True, blank=True, help_text="From below, counted from 1.")
    x_mm = models.PositiveIntegerField(null=True, blank=True)
    y_mm = models.PositiveIntegerField(null=True, blank=True)
    length_mm = models.PositiveIntegerField(null=True, blank=True, help_text="As it stands, along x.")
    width_mm = models.PositiveIntegerField(null=True, blank=True, help_text="As it stands, along y.")
    round = models.BooleanField(default=False)

    class Meta:
        ordering = ["load", "level", "y_mm", "x_mm", "id"]
        constraints = [
            models.UniqueConstraint(fields=["load", "piece"], name="stand_once_a_load"),
            models.CheckConstraint(
                name="stand_whole_or_none",
                condition=Q(level__isnull=True, x_mm__isnull=True, y_mm__isnull=True)
                | Q(
                    level__isnull=False,
                    x_mm__isnull=False,
                    y_mm__isnull=False,
                    length_mm__isnull=False,
                    width_mm__isnull=False,
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.piece} on shelf {self.level}"
