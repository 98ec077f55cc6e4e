"""Equipment, its thermal record, and the supplies it draws on."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studios import thermal
from studios.errors import LehrbookError
from studios.models.beside import beside
from studios.models.places import Studio
from studios.said import said


class EquipmentKind(models.TextChoices):
    """What a piece of equipment is, in the trade's words."""

    FURNACE = "furnace", _("furnace")
    GLORY_HOLE = "glory-hole", _("glory hole")
    BENCH = "bench", _("bench")
    PIPE_WARMER = "pipe-warmer", _("pipe warmer")
    TORCH = "torch", _("torch")
    KILN = "kiln", _("kiln")
    ANNEALER = "annealer", _("annealer")
    COLD_STATION = "cold-station", _("cold station")


class Equipment(models.Model):
    """One bookable thing."""

    studio = models.ForeignKey(Studio, models.PROTECT, related_name="equipment")
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=16, choices=EquipmentKind.choices)
    name = models.CharField(max_length=60)
    number = models.PositiveSmallIntegerField(
        default=1, help_text="Order on the sheet; the number on a torch."
    )
    places = models.PositiveSmallIntegerField(
        default=1,
        validators=[MinValueValidator(1)],
        help_text="How many may use it at once: gatherers at a furnace; 1 for everything else.",
    )
    station = models.ForeignKey(
        "self",
        models.SET_NULL,
        null=True,
        blank=True,
        related_name="companions",
        help_text="The glory hole this bench or pipe warmer belongs to; it is held together with it.",
    )
    gas_fired = models.BooleanField("heated by gas", default=False)
    working_c = models.FloatField("working temperature (°C)", null=True, blank=True)
    touch_c = models.FloatField("may be touched below (°C)", default=50.0)
    prepare_min = models.PositiveSmallIntegerField(
        "purge and check, or loading (minutes)", default=0, help_text="Torch: purge and check. Kiln: loading."
    )
    clear_min = models.PositiveSmallIntegerField(
        "cooling at the torch, or unloading (minutes)", default=0, help_text="Annealer and kiln: unloading."
    )
    capacity_cm2 = models.PositiveIntegerField(
        "shelf area (cm²)", default=0, help_text="Room for pieces in a kiln or annealer."
    )
    shelf_length_mm = models.PositiveIntegerField(
        "length of a shelf (mm)",
        null=True,
        blank=True,
        validators=[MinValueValidator(50), MaxValueValidator(5000)],
        help_text="With its width: pieces are then laid out on it one by one.",
    )
    shelf_width_mm = models.PositiveIntegerField(
        "width of a shelf (mm)",
        null=True,
        blank=True,
        validators=[MinValueValidator(50), MaxValueValidator(5000)],
    )
    shelf_levels = models.PositiveSmallIntegerField(
        "shelves one above the other, on posts",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(12)],
        help_text="Where the program allows it; what sinks into moulds lies on one.",
    )
    shelf_margin_mm = models.PositiveSmallIntegerField(
        "free at the edge of a shelf (mm)", default=10, help_text="Common practice, no source."
    )
    piece_spacing_mm = models.PositiveSmallIntegerField(
        "free between two pieces (mm)",
        default=12,
        help_text="So that glass that spreads does not reach its neighbour. Common practice, no source.",
    )
    hour_price = models.DecimalField(
        "an hour of it, from loading to unloading",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    shelf_wash_price = models.DecimalField(
        "wash and material for one shelf",
        max_digits=8,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    controller_segments = models.PositiveSmallIntegerField(
        "segments its controller takes",
        null=True,
        blank=True,
        validators=[MinValueValidator(2)],
        help_text="Empty: any number. With few, stages are merged, never faster than permitted.",
    )
    longest_wait_min = models.PositiveSmallIntegerField(
        "longest wait before its program starts (minutes)",
        default=0,
        validators=[MaxValueValidator(24 * 60)],
        help_text="A kiln whose controller can start by itself waits, loaded, until its supply has room.",
    )
    lighting_kwh = models.FloatField(
        "what lighting it costs (kWh)",
        default=0.0,
        validators=[MinValueValidator(0.0)],
        help_text="Purge, wear and somebody's time, told as energy. Common practice, no source. Between two "
        "classes a glory hole is kept hot where that takes less than heating it again and this.",
    )
    room = models.ForeignKey(
        "Supply",
        models.SET_NULL,
        null=True,
        blank=True,
        related_name="equipment_in_it",
        limit_choices_to={"kind": "people"},
        help_text="The room it stands in, where that takes only so many people at once.",
    )
    active = models.BooleanField(default=True)

    class Meta:
        ordering = ["studio", "kind", "number", "name"]
        verbose_name_plural = "equipment"
        constraints = [
            models.UniqueConstraint(fields=["studio", "name"], name="equipment_name_once"),
            models.CheckConstraint(name="equipment_has_a_place", condition=Q(places__gte=1)),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        if self.station and self.station.studio_id != self.studio_id:
            raise ValidationError({"station": "A bench and its glory hole stand in the same studio."})
        if self.room and (self.room.studio_id != self.studio_id or self.room.kind != SupplyKind.PEOPLE):
            raise ValidationError({"room": "A room of the same studio, with its greatest number of people."})
        if self.places > 1 and self.kind in {EquipmentKind.GLORY_HOLE, EquipmentKind.PIPE_WARMER}:
            raise ValidationError({"places": "A glory hole or pipe warmer is used by one session at a time."})
        if (self.shelf_length_mm is None) != (self.shelf_width_mm is None):
            raise ValidationError({"shelf_width_mm": "A shelf has a length and a width; give both or none."})
        sides = (self.shelf_length_mm, self.shelf_width_mm)
        if any(side is not None and side <= 2 * self.shelf_margin_mm for side in sides):
            raise ValidationError({"shelf_margin_mm": "The margin leaves nothing of the shelf."})
        if self.longest_wait_min and self.kind != EquipmentKind.KILN:
            raise ValidationError({"longest_wait_min": "Only a kiln is loaded cold and waits."})
        if self.lighting_kwh and self.kind not in {EquipmentKind.GLORY_HOLE, EquipmentKind.PIPE_WARMER}:
            raise ValidationError({"lighting_kwh": "Only a glory hole or pipe warmer is lit for a class."})

    @property
    def heat_price(self) -> Decimal | None:
        """What a kWh costs that heats it, by gas or by electricity; None where its studio has set none."""
        return self.studio.gas_price_per_kwh if self.gas_fired else self.studio.price_per_kwh

    def record_on(self, day: dt.date) -> ThermalRecord | None:
        """The thermal record in force on a day: the latest that has begun, else the first there is."""
        records = sorted(self.thermal_records.all(), key=lambda record: record.valid_from)
        begun = [record for record in records if record.valid_from <= day]
        return begun[-1] if begun else (records[0] if records else None)

    def body_on(self, day: dt.date) -> thermal.Body | None:
        """How it heats and cools on a day: the record in force, in the room as it is in that season."""
        record, season = self.record_on(day), self.studio.season_on(day)
        if record is None:
            return None
        return record.as_thermal(warmer_k=season.warmer_k if season else 0.0)


class ThermalRecord(models.Model):
    """One lumped body: how fast it loses heat (τ) and where full power would hold it (T∞)."""

    equipment = models.ForeignKey(Equipment, models.CASCADE, related_name="thermal_records")
    valid_from = models.DateField(default=dt.date(2020, 1, 1))
    tau_h = models.FloatField("time constant τ (h)")
    tau_low_h = models.FloatField("τ below the split (h)", null=True, blank=True)
    split_c = models.FloatField("split temperature (°C)", default=200.0)
    ceiling_c = models.FloatField("ceiling T∞ (°C)")
    power_kw = models.FloatField("full power (kW)")
    ramp_limit_c_per_h = models.FloatField("ramp limit (°C/h)", null=True, blank=True)
    ambient_c = models.FloatField("ambient (°C)", default=30.0)
    door_c = models.FloatField(
        "door-opening temperature (°C)",
        null=True,
        blank=True,
        help_text="Empty: 50 °C or ambient + 15 K, whichever is higher, never above 93 °C.",
    )
    source = models.CharField(max_length=200, help_text="Fitted from a log, or estimated.")

    class Meta:
        ordering = ["equipment", "valid_from"]
        constraints = [
            models.UniqueConstraint(fields=["equipment", "valid_from"], name="thermal_record_once_a_day")
        ]

    def __str__(self) -> str:
        return f"{self.equipment}: τ {self.tau_h} h, T∞ {self.ceiling_c} °C"

    def clean(self) -> None:
        """The thermal model's own rules, shown beside the form once every value is there."""
        if None in {self.tau_h, self.split_c, self.ceiling_c, self.power_kw, self.ambient_c}:
            return
        try:
            self.as_thermal()
        except LehrbookError as error:
            raise beside(error, self) from error

    def as_thermal(self, *, warmer_k: float = 0.0) -> thermal.Body:
        """The record the thermal model works with, in a room warmer than usual by so many kelvin.

        Full power holds it so much above the room, whatever the room has.
        """
        return thermal.Body(
            tau_h=self.tau_h,
            tau_low_h=self.tau_low_h,
            split_c=self.split_c,
            ceiling_c=self.ceiling_c + warmer_k,
            power_kw=self.power_kw,
            ramp_limit_c_per_h=self.ramp_limit_c_per_h,
            ambient_c=self.ambient_c + warmer_k,
            door_c=self.door_c,
        )


UNITS = {
    "electricity": "kW",
    "oxygen": "L/min",
    "fuel-gas": "kW",
    "exhaust": "m³/h",
    "people": said("people"),
}


class SupplyKind(models.TextChoices):
    """What several pieces of equipment draw at once; the unit is part of the kind."""

    ELECTRICITY = "electricity", _("electrical power (kW)")
    OXYGEN = "oxygen", _("oxygen (L/min)")
    FUEL_GAS = "fuel-gas", _("fuel gas (kW)")
    EXHAUST = "exhaust", _("exhaust air (m³/h)")
    PEOPLE = "people", _("people in a room")

    @property
    def unit(self) -> str:
        """The unit in which draws and limits of this kind are counted."""
        return UNITS[self.value]

    @property
    def content_unit(self) -> str:
        """The unit in which a content of this kind is counted; empty where there can be none."""
        return {"oxygen": "L", "fuel-gas": "kWh"}.get(self.value, "")

    @property
    def content_per_min(self) -> float:
        """What one unit of draw takes out of a content in a minute."""
        return 1 / 60 if self.unit == "kW" else 1.0


class Supply(models.Model):
    """A shared supply with a greatest rate, and a content where it comes in cylinders or tanks.

    The content is counted from the first refill that is recorded; until then nothing is known of it.
    """

    studio = models.ForeignKey(Studio, models.CASCADE, related_name="supplies")
    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=12, choices=SupplyKind.choices)
    name = models.CharField(max_length=60)
    limit = models.FloatField(
        validators=[MinValueValidator(0.0)],
        help_text="Greatest rate. Electricity: what the breaker is rated for; loads of 3 hours or more are "
        "counted at 125 %, so that they take 80 % of it at most. A room: people at once.",
    )
    content = models.FloatField(
        "content of full cylinders or of a full tank",
        null=True,
        blank=True,
        validators=[MinValueValidator(0.0)],
        help_text="Oxygen in L, fuel gas in kWh. Empty: it comes through a line and never runs dry.",
    )
    floor = models.FloatField(
        "left in it at least", default=0.0, validators=[MinValueValidator(0.0)], help_text="In L or kWh."
    )
    change_over = models.BooleanField(
        "staff can change over to full cylinders",
        default=False,
        help_text="A class that would run it dry then brings a change-over before it.",
    )

    class Meta:
        ordering = ["studio", "kind", "name"]
        verbose_name_plural = "supplies"
        constraints = [
            models.UniqueConstraint(fields=["studio", "name"], name="supply_name_once"),
            models.CheckConstraint(
                name="supply_content_above_its_floor",
                condition=Q(content__isnull=True) | Q(content__gt=F("floor")),
                violation_error_message="A full content is more than what is left in it at least.",
            ),
            models.CheckConstraint(
                name="supply_content_of_what_is_stored",
                condition=Q(content__isnull=True) | Q(kind__in=["oxygen", "fuel-gas"]),
                violation_error_message="Only oxygen and fuel gas come in cylinders or tanks.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def unit(self) -> str:
        """The unit of the limit."""
        return SupplyKind(self.kind).unit

    @property
    def content_unit(self) -> str:
        """The unit of the content."""
        return SupplyKind(self.kind).content_unit


class Draw(models.Model):
    """What a piece of equipment draws from a supply while it works or heats: its full connected draw."""

    equipment = models.ForeignKey(Equipment, models.CASCADE, related_name="draws")
    supply = models.ForeignKey(Supply, models.CASCADE, related_name="draws")
    amount = models.FloatField(validators=[MinValueValidator(0.0)])

    class Meta:
        ordering = ["supply", "equipment"]
        constraints = [models.UniqueConstraint(fields=["equipment", "supply"], name="draw_once")]

    def __str__(self) -> str:
        return f"{self.equipment}: {self.amount:g} {self.supply.unit} of {self.supply}"

    def clean(self) -> None:
        if self.equipment_id and self.supply_id and self.equipment.studio_id != self.supply.studio_id:
            raise ValidationError({"supply": "Equipment draws on supplies of its own studio."})
        if self.supply_id and self.supply.kind == SupplyKind.PEOPLE:
            raise ValidationError({"supply": "A room is filled by people; say of the equipment where it is."})
