"""What is asked for where a furnace is charged, and where its glass is measured."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.utils.translation import gettext_lazy as _

from scheduling.web.change_forms import WallForm
from scheduling.web.forms import PlainForm, asked_for, day_field, time_field
from scheduling.web.numbers import NumberField
from studios.models import Studio


class ChargeForm(WallForm):
    """When a charge begins, and how much the pot holds after it."""

    day = day_field(_("Turned up on"), _("Choose a day."))
    time = time_field(_("at"), _("Choose a time."))
    level_after_kg = NumberField(
        label=_("Glass in the pot after it (kg)"),
        required=False,
        help_text=_("Left out: it is full."),
        error_messages=asked_for(_("Write the kilograms as a number.")),
    )

    def __init__(
        self, *args: Any, studio: Studio, starts_at: dt.datetime | None = None, **kwargs: Any
    ) -> None:
        """What fits best is filled in."""
        if starts_at is not None:
            local = starts_at.astimezone(studio.zone)
            kwargs["initial"] = {"day": local.date(), "time": local.time()}
        super().__init__(*args, studio=studio, **kwargs)


class ByWhen(WallForm):
    """By when the glass has to be ready."""

    day = day_field(_("Ready by"), _("Choose a day."))
    time = time_field(_("at"), _("Choose a time."))

    def moment(self) -> dt.datetime | None:
        """The moment that was asked for; None where none was, or none that exists."""
        return self.at("day", "time") if self.is_bound and self.is_valid() else None


class LevelForm(PlainForm):
    """How much glass somebody read."""

    level_kg = NumberField(
        label=_("Glass in the pot now (kg)"),
        error_messages=asked_for(_("Write the kilograms as a number.")),
    )
