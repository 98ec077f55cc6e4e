"""Calendars out, by secret link, and other people's calendars in, as busy time."""

from __future__ import annotations

import secrets
import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studios.models import Equipment, Studio


def new_key() -> str:
    """An unguessable key: 256 random bits."""
    return secrets.token_urlsafe(32)


class About(models.TextChoices):
    """What a calendar is about: the week of its owner, or what happens at a studio."""

    PERSON = "person", _("my week")
    STUDIO = "studio", _("a studio")
    EQUIPMENT = "equipment", _("a piece of equipment")
    DUTIES = "duties", _("the technician's duties")


class FeedKey(models.Model):
    """A secret link to a calendar; it can be withdrawn.

    `shows` names the kinds of events that are in it; an empty list shows all that there are.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="feed_keys")
    key = models.CharField(max_length=64, unique=True, default=new_key, editable=False)
    label = models.CharField(max_length=60, default="calendar")
    about = models.CharField(max_length=10, choices=About.choices, default=About.PERSON)
    studio = models.ForeignKey(
        Studio,
        models.CASCADE,
        null=True,
        blank=True,
        related_name="feed_keys",
        help_text="If of one.",
    )
    equipment = models.ForeignKey(
        Equipment, models.CASCADE, null=True, blank=True, related_name="feed_keys", help_text="If of one."
    )
    shows = models.JSONField(default=list, blank=True, help_text="Kinds of events; empty for all.")
    alarm_min = models.PositiveSmallIntegerField(
        null=True, blank=True, default=30, help_text="Minutes before a duty; empty for no alarm."
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["created_at", "id"]
        constraints = [
            models.CheckConstraint(
                name="feed_about_one_thing",
                condition=Q(about=About.PERSON, studio__isnull=True, equipment__isnull=True)
                | Q(about__in=[About.STUDIO, About.DUTIES], studio__isnull=False, equipment__isnull=True)
                | Q(about=About.EQUIPMENT, studio__isnull=True, equipment__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.label} of {self.person}"


class FeedForm(models.TextChoices):
    """How a calendar is written: iCalendar, the same as JSON, or nothing but the hours that are taken."""

    ICALENDAR = "ics", _("iCalendar")
    JCAL = "json", _("jCal")
    FREE_BUSY = "ifb", _("free and busy time")


class FeedCopy(models.Model):
    """A calendar as it was last written for a link: good until something in it changes, or its window moves.

    `count` is what the database had counted by then of all that the calendar is made of
    (`scheduling.revised`); while it stands, and until `good_until`, the bytes are the same.
    """

    feed_key = models.ForeignKey(FeedKey, models.CASCADE, related_name="copies")
    form = models.CharField(max_length=4, choices=FeedForm.choices)
    base = models.CharField(max_length=300, help_text="Where the pages are that its events refer to.")
    count = models.PositiveBigIntegerField()
    good_until = models.DateTimeField()
    digest = models.CharField(max_length=64)
    changed_at = models.DateTimeField()
    content = models.BinaryField(help_text="Compressed.")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["feed_key", "form", "base"], name="feed_copy_once")]
        verbose_name_plural = "feed copies"

    def __str__(self) -> str:
        return f"{self.feed_key}, {self.form}"


class OtherCalendar(models.Model):
    """A calendar that somebody keeps elsewhere: its hours are not offered to be taught in.

    It came as a file, or is fetched by its link. What was read last stays in force while a new reading fails.
    """

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="other_calendars")
    label = models.CharField(max_length=60)
    link = models.CharField(max_length=1000, blank=True)
    content = models.BinaryField(null=True, help_text="The last good copy, compressed.")
    etag = models.CharField(max_length=300, blank=True)
    last_modified = models.CharField(max_length=60, blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    read_at = models.DateTimeField(null=True, blank=True, help_text="When it was last read well.")
    tried_at = models.DateTimeField(null=True, blank=True)
    next_try_at = models.DateTimeField(default=timezone.now)
    failures = models.PositiveIntegerField(default=0, help_text="In a row.")
    problem = models.CharField(max_length=400, blank=True, help_text="Why the last reading failed.")

    class Meta:
        ordering = ["created_at", "id"]
        indexes = [models.Index(fields=["next_try_at"], name="other_calendar_due")]

    def __str__(self) -> str:
        return f"{self.label} of {self.person}"


class BusySpan(models.Model):
    """Hours of a person that another calendar says are taken; what for is nobody's business here."""

    calendar = models.ForeignKey(OtherCalendar, models.CASCADE, related_name="spans")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="busy_spans")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at", "id"]
        indexes = [models.Index(fields=["person", "starts_at", "ends_at"], name="busy_span_by_time")]
        constraints = [
            models.CheckConstraint(name="busy_span_ends_after_start", condition=Q(ends_at__gt=F("starts_at")))
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.starts_at} to {self.ends_at}"
