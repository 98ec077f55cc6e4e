"""Studios and the hours in which somebody is there."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from typing import TYPE_CHECKING

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studios import thermal
from studios.errors import LehrbookError
from studios.public_holidays import regions

if TYPE_CHECKING:
    from studios.models.rooms import Season


def validate_time_zone(value: str) -> None:
    """A time zone is an IANA name, such as America/Chicago."""
    if value not in zoneinfo.available_timezones():
        raise ValidationError(f"{value!r} is no IANA time zone name, such as America/Chicago.")


def validate_currency(value: str) -> None:
    """A currency is three capital letters."""
    if not (len(value) == 3 and value.isascii() and value.isalpha() and value.isupper()):
        raise ValidationError(f"{value!r} is no ISO 4217 currency code, such as EUR.")


def validate_country(value: str) -> None:
    """A country whose public holidays are known, by its ISO 3166 code."""
    if value not in regions():
        raise ValidationError(f"No public holidays are known for {value!r}; write a country as DE or GB.")


def _ceiling(what: str, default_c_per_h: float) -> models.FloatField:
    """The studio's own fastest rate for a thickness; between and beyond the two it goes by 1/d."""
    return models.FloatField(
        f"ceiling, {what} (°C/h)",
        default=default_c_per_h,
        null=True,
        blank=True,
        validators=[MinValueValidator(1.0)],
        help_text="Common practice, no source. Empty: the glass alone decides.",
    )


def _ceilings(at_6_mm: float | None, at_12_mm: float | None) -> tuple[tuple[float, float], ...] | None:
    """The ceilings that are set; None where there are none."""
    return tuple((mm, rate) for mm, rate in ((6.0, at_6_mm), (12.0, at_12_mm)) if rate is not None) or None


class Weekday(models.IntegerChoices):
    """The ISO weekday, less one, as `date.weekday()` counts it."""

    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


class Studio(models.Model):
    """A place with a time zone, staffed hours, equipment, supplies and firing rules of its own."""

    class TemperatureUnit(models.TextChoices):
        CELSIUS = "C", "°C"
        FAHRENHEIT = "F", "°F"

    class LengthUnit(models.TextChoices):
        MILLIMETRE = "mm", "mm"
        INCH = "in", _("inch")

    name = models.CharField(max_length=80, unique=True)
    slug = models.SlugField(max_length=40, unique=True)
    time_zone = models.CharField(max_length=60, validators=[validate_time_zone])
    address = models.CharField(max_length=200, blank=True)
    latitude = models.DecimalField(
        max_digits=8,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )
    longitude = models.DecimalField(
        max_digits=9,
        decimal_places=6,
        null=True,
        blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )
    email = models.EmailField(blank=True, help_text="Invitations come from here; else from the service.")
    temperature_unit = models.CharField(
        max_length=1, choices=TemperatureUnit.choices, default=TemperatureUnit.CELSIUS
    )
    length_unit = models.CharField(max_length=2, choices=LengthUnit.choices, default=LengthUnit.MILLIMETRE)
    notice_min = models.PositiveIntegerField(
        "notice before a class (minutes)",
        default=120,
        help_text="No class is booked later than this before it.",
    )
    latest_end = models.TimeField(
        "classes are over by",
        null=True,
        blank=True,
        help_text="By the studio's clock, for its neighbours or its lease; empty: whenever it is staffed.",
    )
    electric_unattended = models.BooleanField(
        "electric heat-up may run unattended",
        default=True,
        help_text="Gas is attended from lighting to off in any case.",
    )
    hold_gap_min = models.PositiveIntegerField(
        "longest idle hold between two classes (minutes)",
        default=240,
        help_text="An annealer is kept hot this long for a second class. Common practice, no source.",
    )
    kept_stress_mpa = models.FloatField(
        "permitted kept stress (MPa)", default=0.7, validators=[MinValueValidator(0.01)]
    )
    passing_stress_mpa = models.FloatField(
        "permitted passing stress (MPa)", default=7.0, validators=[MinValueValidator(0.01)]
    )
    soak_floor_min_per_mm = models.FloatField(
        "shortest soak (minutes for each mm)",
        default=10.0,
        validators=[MinValueValidator(0.0)],
        help_text="One hour for each 6 mm. Common practice, no source.",
    )
    heating_6_mm_c_per_h = _ceiling("heating, 6 mm glass", 220.0)
    heating_12_mm_c_per_h = _ceiling("heating, 12 mm glass", 110.0)
    cooling_6_mm_c_per_h = _ceiling("annealing, 6 mm glass", 85.0)
    cooling_12_mm_c_per_h = _ceiling("annealing, 12 mm glass", 55.0)
    sharing_tolerance_k = models.FloatField(
        "annealing points that may share a firing (K apart)", default=5.0, validators=[MinValueValidator(0.0)]
    )

    currency = models.CharField(
        max_length=3, blank=True, validators=[validate_currency], help_text="ISO 4217, such as EUR."
    )
    price_per_kwh = models.DecimalField(
        "electricity, for a kWh",
        max_digits=8,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    gas_price_per_kwh = models.DecimalField(
        "gas, for a kWh of heat input",
        max_digits=8,
        decimal_places=4,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )

    torch_hour_price = models.DecimalField(
        "a torch in open bench time, for an hour",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    keep_seat_min = models.PositiveSmallIntegerField(
        "a seat is kept while its form is filled in (minutes)",
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(120)],
    )
    cancel_deadline_h = models.PositiveSmallIntegerField(
        "a student gives a seat back until (hours before)",
        default=24,
        help_text="Later the studio decides. 0: until it begins.",
    )
    offer_h = models.PositiveSmallIntegerField(
        "a seat that came free is offered for (hours)",
        default=12,
        validators=[MinValueValidator(1), MaxValueValidator(14 * 24)],
        help_text="To the first in the waiting line; then to the next.",
    )
    decision_days = models.PositiveSmallIntegerField(
        "it is decided whether a class takes place (days before)",
        default=3,
        validators=[MaxValueValidator(60)],
        help_text="A class below its least number of seats is flagged from then on.",
    )
    remind_h = models.PositiveSmallIntegerField(
        "people are reminded (hours before)", default=24, help_text="0: nobody is reminded."
    )
    day_sheet_at = models.TimeField(
        "the day's sheet is sent at",
        default=dt.time(6),
        help_text="By the studio's clock, to its technicians.",
    )
    uncollected_days = models.PositiveSmallIntegerField(
        "pieces are listed as uncollected after (days)", default=14
    )

    holiday_country = models.CharField(
        "country of its public holidays",
        max_length=2,
        blank=True,
        validators=[validate_country],
        help_text="ISO 3166-1, such as DE. A weekly class is proposed to skip them; empty: none is proposed.",
    )
    holiday_region = models.CharField(
        "region of its public holidays",
        max_length=40,
        blank=True,
        help_text="ISO 3166-2 without its country, such as BY; empty: those of the whole country.",
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """A region lies in its country, a place has both coordinates, and the thermal model's limits hold."""
        self._clean_region()
        self._clean_place()
        self._clean_limits()

    def _clean_region(self) -> None:
        known = regions().get(self.holiday_country, frozenset())
        if self.holiday_region and self.holiday_region not in known:
            listed = ", ".join(sorted(known)) or "none"
            message = f"{self.holiday_country or 'No country'} has no such region; its regions: {listed}."
            raise ValidationError({"holiday_region": message})

    def _clean_place(self) -> None:
        if (self.latitude is None) != (self.longitude is None):
            field = "latitude" if self.latitude is None else "longitude"
            raise ValidationError({field: "Give both latitude and longitude, or neither."})

    def _clean_limits(self) -> None:
        """Shown beside the form once every value is there."""
        if None in {self.kept_stress_mpa, self.passing_stress_mpa, self.soak_floor_min_per_mm}:
            return
        try:
            self.as_policy()
        except LehrbookError as error:
            raise ValidationError(str(error)) from error

    def season_on(self, day: dt.date) -> Season | None:
        """The season of a day: the last that has begun that year, else the last of the year before."""
        seasons = sorted(self.seasons.all(), key=lambda season: season.begins)
        begun = [season for season in seasons if season.begins <= (day.month, day.day)]
        return begun[-1] if begun else (seasons[-1] if seasons else None)

    def as_policy(self) -> thermal.Policy:
        """The studio's own limits for stress, rates, soak and sharing, and its own process temperatures."""
        return thermal.Policy(
            heating_ceilings=_ceilings(self.heating_6_mm_c_per_h, self.heating_12_mm_c_per_h),
            cooling_ceilings=_ceilings(self.cooling_6_mm_c_per_h, self.cooling_12_mm_c_per_h),
            processes=tuple(row.as_pair() for row in self.own_processes.all()) if self.pk else (),
            kept_mpa=self.kept_stress_mpa,
            passing_mpa=self.passing_stress_mpa,
            soak_floor_min_per_mm=self.soak_floor_min_per_mm,
            sharing_tolerance_k=self.sharing_tolerance_k,
        )

    @property
    def zone(self) -> zoneinfo.ZoneInfo:
        """The time zone of the studio's clocks."""
        return zoneinfo.ZoneInfo(self.time_zone)


class WeeklyHours(models.Model):
    """A stretch of one weekday by the studio's wall clock; 24:00 is written as an end of 00:00."""

    weekday = models.PositiveSmallIntegerField(choices=Weekday.choices)
    opens = models.TimeField()
    closes = models.TimeField(help_text="00:00 means midnight at the end of the day.")

    class Meta:
        abstract = True

    def clean(self) -> None:
        if None in (self.opens, self.closes):
            return
        if self.closes != dt.time(0) and self.closes <= self.opens:
            raise ValidationError({"closes": "The end must be later than the start; 00:00 means midnight."})


class StaffedHours(WeeklyHours):
    """Weekly hours in which a person is there who may light gas, load, unload or charge."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="staffed_hours")
    may_light = models.BooleanField("lights gas", default=True)
    may_load = models.BooleanField("loads", default=True)
    may_unload = models.BooleanField("unloads", default=True)
    may_charge = models.BooleanField("charges the furnace", default=True)

    class Meta:
        ordering = ["studio", "weekday", "opens"]
        verbose_name_plural = "staffed hours"

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M} to {self.closes:%H:%M}"


class BenchHours(WeeklyHours):
    """Weekly hours of open bench time, in which a torch may be reserved without a class."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="bench_hours")

    class Meta:
        ordering = ["studio", "weekday", "opens"]
        verbose_name_plural = "bench hours"

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M} to {self.closes:%H:%M}"


class Closure(models.Model):
    """Whole days on which nobody is at the studio; what cools may go on cooling."""

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="closures")
    first_day = models.DateField()
    last_day = models.DateField()
    reason = models.CharField(max_length=120)

    class Meta:
        ordering = ["first_day"]
        constraints = [
            models.CheckConstraint(
                name="closure_days_in_order",
                condition=Q(last_day__gte=F("first_day")),
                violation_error_message="The last day must not be before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.reason}, {self.first_day} to {self.last_day}"


class Travel(models.Model):
    """How long a person needs from one studio to another."""

    origin = models.ForeignKey(Studio, models.CASCADE, related_name="travel_from")
    destination = models.ForeignKey(Studio, models.CASCADE, related_name="travel_to")
    minutes = models.PositiveIntegerField(validators=[MaxValueValidator(24 * 60)])

    class Meta:
        ordering = ["origin", "destination"]
        verbose_name_plural = "travel"
        constraints = [
            models.UniqueConstraint(fields=["origin", "destination"], name="travel_once"),
            models.CheckConstraint(name="travel_between_two_studios", condition=~Q(origin=F("destination"))),
        ]

    def __str__(self) -> str:
        return f"{self.origin} to {self.destination}: {self.minutes} min"
