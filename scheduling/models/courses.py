"""Courses: what a kind of class needs."""

from __future__ import annotations

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from studios.models import EquipmentKind, GlassType, Studio
from studios.thermal import Recipe, Shape

SHAPES = [(shape.value, shape.value.replace("-", " ")) for shape in Shape]
RECIPES = [(recipe.value, recipe.value.replace("-", " ")) for recipe in Recipe]


class Course(models.Model):
    """A kind of class: its length, its glass and thickness, its needs and its seats."""

    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    description = models.TextField(blank=True)
    studios = models.ManyToManyField(Studio, related_name="courses", help_text="Where it may be taught.")
    minutes = models.PositiveIntegerField(validators=[MinValueValidator(15), MaxValueValidator(24 * 60)])
    setup_min = models.PositiveIntegerField("set-up minutes", default=0)
    cleanup_min = models.PositiveIntegerField("clean-up minutes", default=0)
    seats = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    min_seats = models.PositiveSmallIntegerField(default=1)
    assistants = models.PositiveSmallIntegerField(
        default=0,
        validators=[MaxValueValidator(10)],
        help_text="Others who may teach at the studio and are free for it, beside the instructor.",
    )
    glass = models.ForeignKey(GlassType, models.PROTECT, related_name="courses")
    shape = models.CharField(max_length=16, choices=SHAPES)
    thickness_mm = models.FloatField(validators=[MinValueValidator(0.1), MaxValueValidator(300)])
    foot_mm = models.FloatField(
        "foot of a vessel (mm)",
        null=True,
        blank=True,
        validators=[MinValueValidator(0.1), MaxValueValidator(300)],
        help_text="Where it is thicker than the wall, it decides how long the night is.",
    )
    recipe = models.CharField(
        max_length=12,
        choices=RECIPES,
        default=Recipe.ANNEAL.value,
        help_text="What its kiln runs after the class.",
    )
    pieces_per_seat = models.PositiveSmallIntegerField(default=1)
    piece_footprint_cm2 = models.PositiveIntegerField("room of one piece on the shelf (cm²)", default=100)
    glass_kg_per_seat = models.FloatField(
        "glass from the pot for each seat (kg)",
        default=0.0,
        validators=[MinValueValidator(0.0)],
        help_text="Gathers and waste. Common practice, no source; 0: it is not counted.",
    )
    price = models.DecimalField(
        "price of a seat",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="In the currency of the studio; empty: none is asked.",
    )
    requires = models.ManyToManyField(
        "self",
        symmetrical=False,
        blank=True,
        related_name="leads_to",
        help_text="Earlier courses: a student has taken each of them before.",
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                name="course_min_seats_fit",
                condition=Q(min_seats__lte=F("seats")),
                violation_error_message="The least number of seats is not above the number of seats.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Only a vessel has a foot."""
        if self.foot_mm is not None and self.shape != Shape.VESSEL:
            raise ValidationError({"foot_mm": "Only a vessel has a foot."})


class EarlierCourse(models.Model):
    """Somebody of the studio vouches that a person has taken a course, here or elsewhere."""

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="earlier_courses")
    course = models.ForeignKey(Course, models.CASCADE, related_name="taken_by")
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["person", "course"]
        constraints = [models.UniqueConstraint(fields=["person", "course"], name="earlier_course_once")]

    def __str__(self) -> str:
        return f"{self.person}: {self.course}"


class CourseNeed(models.Model):
    """A course needs so many pieces of one kind of equipment at a studio."""

    course = models.ForeignKey(Course, models.CASCADE, related_name="needs")
    kind = models.CharField(max_length=16, choices=EquipmentKind.choices)
    count = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1)], help_text="Pieces of equipment; places at a furnace."
    )

    class Meta:
        ordering = ["course", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["course", "kind"], name="need_once"),
            models.CheckConstraint(
                name="need_one_firing",
                condition=Q(count=1) | ~Q(kind__in=[EquipmentKind.KILN, EquipmentKind.ANNEALER]),
                violation_error_message="A class puts its pieces into one annealer or one kiln.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.kind}"
