"""What somebody at the kiln fills in: when, what the pyrometer says, and on which shelf the pieces lie."""

from __future__ import annotations

import datetime as dt
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from scheduling.engine.clock import DAY, floor_minutes, moment, wall_minutes
from scheduling.models import ActualKind, Firing, Load
from scheduling.selectors.pick_up import loads_of
from scheduling.web.forms import PlainForm, asked_for, day_field, time_field
from scheduling.web.numbers import NumberField
from scheduling.wording import temperature_unit
from studios.errors import LehrbookError
from studios.models import Studio


def in_celsius(read: float, studio: Studio) -> float:
    """A temperature as its reader reads the studio's."""
    return (read - 32) * 5 / 9 if temperature_unit(studio) == Studio.TemperatureUnit.FAHRENHEIT else read


class ActualForm(PlainForm):
    """One thing that happened, by the studio's clock; now, unless it is said otherwise."""

    kind = forms.ChoiceField(choices=ActualKind.choices, error_messages=asked_for(_("Say what happened.")))
    day = day_field(_("Day"), _("Choose the day."))
    at = time_field(_("Time"), _("Choose the time."))
    read_c = NumberField(required=False, error_messages={"invalid": _("Write the temperature as a number.")})
    note = forms.CharField(required=False, max_length=200)

    def __init__(self, data: QueryDict | None = None, *, studio: Studio) -> None:
        now = timezone.now().astimezone(studio.zone)
        super().__init__(data, initial={"day": now.date(), "at": now.time()})
        self.studio = studio
        self.fields["read_c"].label = _("Temperature read (%(unit)s)") % {
            "unit": temperature_unit(studio).label
        }
        self.fields["note"].label = _("Note")

    def what(self) -> dict[str, Any] | None:
        """What the service takes; None: an error stands beside."""
        given = self.cleaned_data
        try:
            at = _latest(given["day"], given["at"], self.studio.zone)
        except LehrbookError as error:
            self.add_error("at", str(error))
            return None
        read = given["read_c"]
        read_c = None if read is None else in_celsius(read, self.studio)
        return {"kind": given["kind"], "at": at, "read_c": read_c, "note": given["note"]}


def _latest(day: dt.date, time: dt.time, zone: ZoneInfo) -> dt.datetime:
    """Of a wall time that the clocks show twice, the one that has come last."""
    second = wall_minutes(day, time.replace(fold=1), zone)
    if second <= floor_minutes(timezone.now()):
        return moment(second)
    return moment(wall_minutes(day, time, zone))


class ShelvesForm(PlainForm):
    """One shelf for each load of a firing."""

    def __init__(self, *args: Any, firing: Firing, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.loads = {f"shelf-{load.pk}": load for load in loads_of(firing)}
        # What broke off lies on no shelf.
        for name, load in self.loads.items() if firing.broken_at is None else ():
            self.fields[name] = _shelf(load, first=not self.fields)
        self.fields["at"] = time_field(
            _("It was at"), _("Write a time such as 17:30."), _("Empty: now."), required=False
        )
        self.studio = firing.equipment.studio

    @property
    def shelf_fields(self) -> list[forms.BoundField]:
        """One for each load."""
        return [self[name] for name in self.loads if name in self.fields]

    def shelves(self) -> dict[Load, str]:
        """Where each load lies: what is left empty lies where the one before it lies."""
        found: dict[Load, str] = {}
        before = ""
        for name, load in self.loads.items():
            if name in self.fields:
                before = self.cleaned_data[name] or before
                found[load] = before
        return found

    def at(self) -> dt.datetime | None:
        """When they came out, if not now: when the clocks of the studio showed that time last."""
        time = self.cleaned_data["at"]
        return last_shown(time, self.studio) if time else None


def _shelf(load: Load, *, first: bool) -> forms.CharField:
    """Where one load lies; the shelves that were named lately are offered by the browser."""
    return forms.CharField(
        max_length=60,
        required=first,
        label=said(load),
        help_text="" if first else _("Empty: where the one above lies."),
        widget=forms.TextInput(attrs={"list": "shelves", "autocomplete": "off"}),
        error_messages=asked_for(_("Say where they lie.")),
    )


def last_shown(time: dt.time, studio: Studio) -> dt.datetime:
    """When the clocks of a studio showed a time last: today, or yesterday where that is to come."""
    now = timezone.now()
    today = now.astimezone(studio.zone).date()
    at = _latest(today, time, studio.zone)
    return at if at <= now else _latest(today - DAY, time, studio.zone)


def said(load: Load) -> str:
    """A load in one line."""
    own = load.owner.name if load.job is None else load.job.title
    whose = load.session.course.name if load.session else own
    pieces = ngettext("%(count)s piece", "%(count)s pieces", load.pieces) % {"count": load.pieces}
    return f"{whose}: {pieces}"
