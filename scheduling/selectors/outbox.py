"""What waits to be told, what failed and what went out, to whoever minds the outbox of a studio."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db import models
from django.db.models import Case, Q, QuerySet, Value, When
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models import Lease, Message
from studios.models import Membership, Person, Studio
from studios.permissions import ACTIONS


class MessageState(models.TextChoices):
    """How far a message is."""

    WAITING = "waiting", _("waiting")
    SENDING = "sending", _("being sent")
    FAILED = "failed", _("failed, to be tried again")
    SENT = "sent", _("sent")


def minded_by(person: Person) -> QuerySet[Studio]:
    """The studios whose outbox a person minds."""
    if person.is_superuser:
        return Studio.objects.order_by("name", "id")
    roles = ACTIONS["see-outbox"]
    found = Studio.objects.filter(memberships__person=person, memberships__role__in=roles)
    return found.distinct().order_by("name", "id")


def messages_minded_by(person: Person) -> QuerySet[Message]:
    """The messages to people of these studios, each with its `state`, the newest first.

    Whoever runs the server sees them all, also those to people who belong to no studio yet.
    """
    found = Message.objects.select_related("person").annotate(state=_state())
    if not person.is_superuser:
        found = found.filter(person__in=_people_of(minded_by(person)))
    return found.order_by("-created_at", "-id")


def in_state(*states: str) -> Q:
    """Messages that are so far."""
    return Q(state__in=states)


def to_people_of(studio: Studio) -> Q:
    """What is told to people of one studio."""
    return Q(person__in=_people_of(Studio.objects.filter(pk=studio.pk)))


def last_delivery() -> dt.datetime | None:
    """When the outbox was gone through the last time, though nobody had rung."""
    lease = Lease.objects.filter(name="outbox").first()
    return lease.ended_at if lease else None


def _people_of(studios: QuerySet[Studio]) -> QuerySet[Membership, Any]:
    return Membership.objects.filter(studio__in=studios.order_by().values("pk")).values("person")


def _state() -> Case:
    claimed = Q(claim__isnull=False, next_try_at__gt=timezone.now())
    return Case(
        When(sent_at__isnull=False, then=Value(MessageState.SENT)),
        When(claimed, then=Value(MessageState.SENDING)),
        When(~Q(last_error=""), then=Value(MessageState.FAILED)),
        default=Value(MessageState.WAITING),
        output_field=models.CharField(),
    )
