"""Bookings, the sessions and seats behind them, and the hours that people give."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.models.courses import Course
from studios.models import Equipment, Studio


class BookingStatus(models.TextChoices):
    """A booking stands or is cancelled; a cancelled one holds nothing and is kept."""

    BOOKED = "booked", _("booked")
    CANCELLED = "cancelled", _("cancelled")


class SeatStatus(models.TextChoices):
    """A seat is kept for somebody until a deadline, booked, or given back; a kept one is taken for others."""

    KEPT = "kept", _("kept")
    BOOKED = "booked", _("booked")
    CANCELLED = "cancelled", _("cancelled")


# What nobody else can have.
TAKEN = (SeatStatus.KEPT, SeatStatus.BOOKED)


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
    planned_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When this meeting of a weekly class would be if it had never been moved.",
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
    """A student's place in a session, or at a numbered torch in open bench time.

    A kept seat has a deadline, and lapses when nobody has booked it by then; it takes no time of the person.
    """

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
    status = models.CharField(max_length=10, choices=SeatStatus.choices, default=SeatStatus.BOOKED)
    kept_until = models.DateTimeField(null=True, blank=True, help_text="Of a kept seat.")
    kept_longer = models.BooleanField(default=False, help_text="It was kept longer once; not again.")
    note = models.CharField(max_length=200, blank=True, help_text="From the person to the instructor.")
    price = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True, help_text="As it was when it was reserved."
    )
    paid_at = models.DateTimeField(null=True, blank=True)
    paid_noted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    moved_at = models.DateTimeField(
        null=True, blank=True, help_text="Its class was moved since it was reserved; no deadline binds it."
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["starts_at", "number", "id"]
        indexes = [models.Index(fields=["kept_until"], condition=Q(status=SeatStatus.KEPT), name="seat_kept")]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "number"], condition=Q(status__in=TAKEN), name="seat_once"
            ),
            models.UniqueConstraint(
                fields=["session", "torch"], condition=Q(status__in=TAKEN), name="class_torch_once"
            ),
            models.UniqueConstraint(
                fields=["session", "person"], condition=Q(status__in=TAKEN), name="one_seat_a_person"
            ),
            models.CheckConstraint(
                name="seat_kept_until_a_deadline",
                condition=Q(status=SeatStatus.KEPT, kept_until__isnull=False) | ~Q(status=SeatStatus.KEPT),
            ),
            models.CheckConstraint(
                name="seat_paid_by_somebody",
                condition=Q(paid_at__isnull=True, paid_noted_by__isnull=True)
                | Q(paid_at__isnull=False, paid_noted_by__isnull=False),
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
