"""What a studio's room and habits change in a firing: its seasons and its own process temperatures."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from studios import thermal
from studios.errors import LehrbookError
from studios.models.beside import beside
from studios.models.places import Studio


class Season(models.Model):
    """From a day of every year on the rooms of a studio are warmer, or colder, than its records say."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="seasons")
    name = models.CharField(max_length=40)
    month = models.PositiveSmallIntegerField(
        "begins in month", validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    day = models.PositiveSmallIntegerField(
        "on day", default=1, validators=[MinValueValidator(1), MaxValueValidator(31)]
    )
    warmer_k = models.FloatField(
        "warmer by (K)",
        validators=[MinValueValidator(-30.0), MaxValueValidator(30.0)],
        help_text="Added to the ambient temperature of every record; negative: colder.",
    )

    class Meta:
        ordering = ["studio", "month", "day"]
        constraints = [models.UniqueConstraint(fields=["studio", "month", "day"], name="season_begins_once")]

    def __str__(self) -> str:
        return f"{self.name}: {self.warmer_k:+g} K"

    @property
    def begins(self) -> tuple[int, int]:
        """Month and day."""
        return self.month, self.day

    def begins_in(self, year: int) -> dt.date:
        """The day it begins in a year."""
        return dt.date(year, self.month, self.day)

    def clean(self) -> None:
        """A season begins on a day that every year has."""
        try:
            self.begins_in(2001)
        except (ValueError, TypeError) as error:
            raise ValidationError({"day": "Choose a day that this month has every year."}) from error


RECIPES = [(recipe.value, recipe.value.replace("-", " ")) for recipe in thermal.PROCESSES]


class OwnProcess(models.Model):
    """A studio's own temperatures for a recipe, in place of the house's."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="own_processes")
    recipe = models.CharField(max_length=12, choices=RECIPES)
    process_c = models.FloatField("process temperature (°C)")
    hold_min = models.FloatField("hold (minutes)")
    squeeze_c = models.FloatField("bubble squeeze (°C)", null=True, blank=True)
    squeeze_min = models.FloatField("squeeze hold (minutes)", default=0.0)

    class Meta:
        ordering = ["studio", "recipe"]
        verbose_name_plural = "own processes"
        constraints = [models.UniqueConstraint(fields=["studio", "recipe"], name="own_process_once")]

    def __str__(self) -> str:
        return f"{self.get_recipe_display()}: {self.process_c:g} °C, {self.hold_min:g} min"

    def clean(self) -> None:
        """The thermal model's own limits, shown beside the form once every value is there."""
        if None in {self.process_c, self.hold_min, self.squeeze_min}:
            return
        try:
            self.as_pair()
        except LehrbookError as error:
            raise beside(error, self) from error

    def as_pair(self) -> tuple[thermal.Recipe, thermal.Process]:
        """The recipe and what the thermal model does for it here."""
        return thermal.Recipe(self.recipe), thermal.Process(
            process_c=self.process_c,
            hold_min=self.hold_min,
            squeeze_c=self.squeeze_c,
            squeeze_min=self.squeeze_min,
        )
