"""What is asked for where a class is moved, and where equipment goes out of use."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import moment, wall_minutes
from scheduling.models import Session
from scheduling.services.outages import LONGEST_REASON
from scheduling.web.forms import PlainForm, asked_for, day_field, time_field
from scheduling.web.numbers import NumberField
from studios.errors import LehrbookError
from studios.models import Person, Studio


class WallForm(PlainForm):
    """A form whose days and times are by the clock of one studio."""

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio

    def at(self, day: str, time: str) -> dt.datetime | None:
        """The moment meant by two fields. None: an error stands beside."""
        given = self.cleaned_data
        try:
            return moment(wall_minutes(given[day], given[time], self.studio.zone))
        except LehrbookError as error:
            self.add_error(time, str(error))
            return None


class MoveForm(WallForm):
    """Where a class is to go, and who is to teach it there."""

    day = day_field(_("Day"), _("Choose a day."))
    time = time_field(_("Class begins at"), _("Choose a time."), _("By the studio's clock."))
    instructor = forms.ModelChoiceField(
        queryset=Person.objects.none(),
        to_field_name="uid",
        label=_("Instructor"),
        required=False,
        empty_label=None,
        error_messages=asked_for(_("Choose an instructor.")),
    )

    def __init__(self, *args: Any, session: Session, instructors: QuerySet[Person], **kwargs: Any) -> None:
        """Who teaches it is asked only where it may be given to somebody else."""
        starts = session.starts_at.astimezone(session.studio.zone)
        initial = {"day": starts.date(), "time": starts.time(), "instructor": session.instructor.uid}
        super().__init__(*args, studio=session.studio, initial=initial, **kwargs)
        field = self.fields["instructor"]
        if not instructors.exists():
            del self.fields["instructor"]
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = instructors


class OutageForm(WallForm):
    """From when to when equipment is out of use, and why."""

    first_day = day_field(_("From"), _("Choose the first day."))
    first_time = time_field(_("at"), _("Choose a time."))
    last_day = day_field(_("Until"), _("Choose the last day."))
    last_time = time_field(_("at"), _("Choose a time."))
    reason = forms.CharField(
        max_length=LONGEST_REASON,
        label=_("Why"),
        help_text=_("It stands on the sheet."),
        error_messages=asked_for(_("Say why.")),
    )


class RepairForm(PlainForm):
    """How long a repair takes."""

    USUAL = 2.0

    hours = NumberField(
        label=_("The repair takes (hours)"),
        initial=USUAL,
        min_value=0.25,
        max_value=72,
        error_messages=asked_for(_("Write the hours as a number, such as 1.5.")),
    )


class EndForm(WallForm):
    """When equipment is in use again."""

    day = day_field(_("In use again from"), _("Choose a day."))
    time = time_field(_("at"), _("Choose a time."))
