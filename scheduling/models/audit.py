"""Who did what to which booking, when, and from which face."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studios.models import Studio


class Face(models.TextChoices):
    """Where something was asked for."""

    PAGE = "page", _("page")
    API = "api", _("API")
    ADMIN = "admin", _("admin")
    COMMAND = "command", _("command")
    ROUND = "round", _("round")


class AuditEntry(models.Model):
    """One thing that was done; rows are only added, and the database refuses to change or delete one.

    `actor` is empty where nobody asked: a deadline passed. `subject` is the uid of what it was done to.
    """

    at = models.DateTimeField(default=timezone.now)
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="audit")
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="audited"
    )
    face = models.CharField(max_length=8, choices=Face.choices)
    did = models.CharField(max_length=30)
    kind = models.CharField(max_length=20)
    subject = models.UUIDField()
    said = models.CharField(max_length=300)

    class Meta:
        ordering = ["-at", "-id"]
        verbose_name_plural = "audit entries"
        indexes = [
            models.Index(fields=["studio", "-at"], name="audit_by_studio"),
            models.Index(fields=["subject"], name="audit_by_subject"),
        ]

    def __str__(self) -> str:
        return self.said
