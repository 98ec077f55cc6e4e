"""What whoever goes the round with gloves on fills in: as little as can be, and now unless it is said."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import moment, wall_minutes
from scheduling.models import ActualKind
from scheduling.web.actual_forms import in_celsius, last_shown
from scheduling.web.forms import PlainForm, asked_for, known_day, time_field
from scheduling.web.numbers import NumberField
from scheduling.wording import temperature_unit
from studios.errors import LehrbookError
from studios.models import Studio


class TickForm(PlainForm):
    """A duty of a day; where something is recorded of it, at what time of that day: now, unless said."""

    day = forms.DateField(validators=[known_day])
    at = time_field(_("It was at"), _("Write a time such as 17:30."), required=False)
    did = forms.ChoiceField(choices=[("tick", _("tick")), ("record", _("record"))])

    def __init__(self, data: QueryDict, *, studio: Studio) -> None:
        super().__init__(data)
        self.studio = studio
        self.duties = data.getlist("duty")

    def what(self) -> dict[str, Any] | None:
        """What the service takes; None: an error stands beside."""
        given = self.cleaned_data
        try:
            at = _on_day(given["day"], given["at"], self.studio) if given["at"] else None
        except LehrbookError as error:
            self.add_error("at", str(error))
            return None
        record = given["did"] == "record"
        return {"day": given["day"], "duties": self.duties, "record": record, "at": at if record else None}


class HappenedForm(PlainForm):
    """What happened at something hot, and what the pyrometer says: now, or when the clocks last showed."""

    kind = forms.ChoiceField(choices=ActualKind.choices, error_messages=asked_for(_("Say what happened.")))
    read_c = NumberField(required=False, error_messages={"invalid": _("Write the temperature as a number.")})
    at = time_field(_("It was at"), _("Write a time such as 17:30."), required=False)

    def __init__(self, data: QueryDict | None = None, *, studio: Studio, auto_id: str = "id_%s") -> None:
        super().__init__(data, auto_id=auto_id)
        self.studio = studio
        self.fields["read_c"].label = _("Temperature read now (%(unit)s)") % {
            "unit": temperature_unit(studio).label
        }

    def what(self) -> dict[str, Any] | None:
        """What the service takes; None: an error stands beside."""
        given = self.cleaned_data
        try:
            at = last_shown(given["at"], self.studio) if given["at"] else timezone.now()
        except LehrbookError as error:
            self.add_error("at", str(error))
            return None
        read = given["read_c"]
        read_c = None if read is None else in_celsius(read, self.studio)
        return {"kind": given["kind"], "at": at, "read_c": read_c}


def _on_day(day: dt.date, time: dt.time, studio: Studio) -> dt.datetime:
    return moment(wall_minutes(day, time, studio.zone))
