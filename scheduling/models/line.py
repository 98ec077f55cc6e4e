"""The waiting line behind a full session."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models.bookings import Seat, Session


class LineStatus(models.TextChoices):
    """Somebody waits, is offered a seat, has taken it, let the offer lapse, or left the line."""

    WAITING = "waiting", _("waiting")
    OFFERED = "offered", _("offered")
    TAKEN = "taken", _("taken")
    LAPSED = "lapsed", _("lapsed")
    LEFT = "left", _("left")


IN_LINE = (LineStatus.WAITING, LineStatus.OFFERED)


class WaitingPlace(models.Model):
    """A person's place in the line behind a full session: who joined first is offered a seat first.

    While it is offered, `seat` is kept for the person until the offer's deadline.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    session = models.ForeignKey(Session, models.CASCADE, related_name="line")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="waiting_places")
    status = models.CharField(max_length=8, choices=LineStatus.choices, default=LineStatus.WAITING)
    joined_at = models.DateTimeField(default=timezone.now)
    changed_at = models.DateTimeField(default=timezone.now)
    seat = models.OneToOneField(
        Seat, models.PROTECT, null=True, blank=True, related_name="waiting_place", help_text="Offered."
    )

    class Meta:
        ordering = ["session", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "person"], condition=Q(status__in=IN_LINE), name="in_line_once"
            ),
            models.CheckConstraint(
                name="offered_seat",
                condition=Q(status="offered", seat__isnull=False) | ~Q(status="offered"),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.status}, {self.session}"
