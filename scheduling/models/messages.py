"""What must be told to somebody, and requests that may be repeated."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone


class Message(models.Model):
    """Something to be told, written in the transaction that causes it and delivered after it.

    `key` names what a person is told once, however often it comes up. `claim` is whose try is under way:
    until `next_try_at` nobody else tries, and after it whoever claimed the message must have died.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="messages")
    subject = models.CharField(max_length=200)
    body = models.TextField()
    method = models.CharField(max_length=10, blank=True, help_text="Of the invitation: REQUEST or CANCEL.")
    invitation = models.TextField(blank=True, help_text="An iCalendar object that goes with it (RFC 5546).")
    key = models.CharField(max_length=120, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    claim = models.UUIDField(null=True, blank=True, editable=False)
    next_try_at = models.DateTimeField(default=timezone.now)
    tries = models.PositiveIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["created_at", "id"]
        constraints = [
            models.UniqueConstraint(fields=["person", "key"], condition=~models.Q(key=""), name="told_once")
        ]
        indexes = [
            models.Index(
                fields=["next_try_at"], condition=models.Q(sent_at__isnull=True), name="message_waiting"
            )
        ]

    def __str__(self) -> str:
        return self.subject


class RepeatedRequest(models.Model):
    """The first answer to a request with an Idempotency-Key, kept so that a repeat gets the same one."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="repeated_requests")
    key = models.CharField(max_length=200)
    digest = models.CharField(max_length=64, help_text="SHA-256 of method, path and body.")
    status_code = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Empty while running.")
    body = models.JSONField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["created_at"]
        constraints = [models.UniqueConstraint(fields=["person", "key"], name="request_once")]

    def __str__(self) -> str:
        return self.key
