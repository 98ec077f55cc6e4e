"""Bookings, the sessions and seats behind them, and the hours that people give."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from scheduling.models.courses import Course
from studios.models import Equipment, Studio


class BookingStatus(models.TextChoices):
    """A booking stands or is cancelled; a cancelled one holds nothing and is kept."""

    BOOKED = "booked", "booked"
    CANCELLED = "cancelled", "cancelled"


class Booking(models.Model):
    """The claim that a session, or bench time, makes on equipment."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="bookings")
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="bookings")
    status = models.CharField(max_length=10, choices=BookingStatus.choices, default=BookingStatus.BOOKED)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-id"]

    def __str__(self) -> str:
        return f"booking {self.uid}"


class Series(models.Model):
    """A course that meets every week at one time of day by the studio's clock."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    course = models.ForeignKey(Course, models.PROTECT, related_name="series")
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="series")
    instructor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="taught_series")
    first_day = models.DateField()
    time = models.TimeField(help_text="By the studio's clock; a change of clocks does not move it.")
    booked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="booked_series")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["first_day", "id"]
        verbose_name_plural = "series"

    def __str__(self) -> str:
        return f"{self.course}, {self.first_day:%A}s at {self.time:%H:%M}"


class Session(models.Model):
    """One meeting of a course at a studio, with an instructor."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    booking = models.OneToOneField(Booking, models.PROTECT, related_name="session")
    course = models.ForeignKey(Course, models.PROTECT, related_name="sessions")
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="sessions")
    instructor = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="taught_sessions")
    assistants = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="assisted_sessions"
    )
    series = models.ForeignKey(
        Series,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="sessions",
        help_text="If it meets weekly.",
    )
    starts_at = models.DateTimeField(db_index=True)
    ends_at = models.DateTimeField()
    seats = models.PositiveSmallIntegerField()
    sequence = models.PositiveIntegerField(default=0, help_text="Rises when time, place or status changes.")
    status = models.CharField(max_length=10, choices=BookingStatus.choices, default=BookingStatus.BOOKED)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["starts_at", "id"]
        constraints = [
            models.CheckConstraint(name="session_ends_after_start", condition=Q(ends_at__gt=F("starts_at")))
        ]

    def __str__(self) -> str:
        return f"{self.course} on {self.starts_at:%Y-%m-%d %H:%M} UTC"


class Seat(models.Model):
    """A student's place in a session, or at a numbered torch in open bench time."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="seats")
    studio = models.ForeignKey(Studio, models.PROTECT, related_name="seats")
    session = models.ForeignKey(Session, models.PROTECT, null=True, blank=True, related_name="seat_rows")
    booking = models.OneToOneField(Booking, models.PROTECT, null=True, blank=True, related_name="seat")
    torch = models.ForeignKey(Equipment, models.PROTECT, null=True, blank=True, related_name="seats")
    number = models.PositiveSmallIntegerField()
    starts_at = models.DateTimeField(db_index=True)
    ends_at = models.DateTimeField()
    sequence = models.PositiveIntegerField(default=0)
    status = models.CharField(max_length=10, choices=BookingStatus.choices, default=BookingStatus.BOOKED)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["starts_at", "number", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "number"], condition=Q(status=BookingStatus.BOOKED), name="seat_once"
            ),
            models.UniqueConstraint(
                fields=["session", "torch"], condition=Q(status=BookingStatus.BOOKED), name="class_torch_once"
            ),
            models.CheckConstraint(
                name="seat_in_session_or_bench_time",
                condition=Q(session__isnull=False, booking__isnull=True)
                | Q(session__isnull=True, booking__isnull=False, torch__isnull=False),
            ),
            models.CheckConstraint(name="seat_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))),
        ]

    def __str__(self) -> str:
        return f"seat {self.number}, {self.person}"


class PersonSpan(models.Model):
    """Hours that a person has given to a session or a seat; two of them never overlap.

    The database refuses an overlap by itself (`scheduling.guards`).
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="spans")
    studio = models.ForeignKey(Studio, models.CASCADE, related_name="person_spans")
    session = models.ForeignKey(Session, models.CASCADE, null=True, blank=True, related_name="person_spans")
    seat = models.OneToOneField(Seat, models.CASCADE, null=True, blank=True, related_name="person_span")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["person", "starts_at"]
        indexes = [models.Index(fields=["person", "starts_at", "ends_at"], name="person_span_by_time")]
        constraints = [
            models.CheckConstraint(
                name="person_span_of_one_thing",
                condition=Q(session__isnull=False, seat__isnull=True)
                | Q(session__isnull=True, seat__isnull=False),
            ),
            models.CheckConstraint(
                name="person_span_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.starts_at} to {self.ends_at}"


class Outage(models.Model):
    """Equipment is out of use; nothing new is booked on it in these hours."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    equipment = models.ForeignKey(Equipment, models.CASCADE, related_name="outages")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    reason = models.CharField(max_length=120)
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.SET_NULL, null=True, blank=True, related_name="outages"
    )

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.CheckConstraint(
                name="outage_ends_after_start",
                condition=Q(ends_at__gt=F("starts_at")),
                violation_error_message="An outage ends after it starts.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.equipment}: {self.reason}"
