"""Hours, closed days, terms, seasons and own programs: the short forms below their lists."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from scheduling.web.setup_forms.base import Part, SetUpForm
from scheduling.web.setup_forms.courses import RECIPES
from studios.models import BenchHours, Closure, Mould, OwnProcess, Season, StaffedHours, Term, Weekday
from studios.thermal import PROCESSES

WEEKDAYS = [
    (Weekday.MONDAY, _("Monday")),
    (Weekday.TUESDAY, _("Tuesday")),
    (Weekday.WEDNESDAY, _("Wednesday")),
    (Weekday.THURSDAY, _("Thursday")),
    (Weekday.FRIDAY, _("Friday")),
    (Weekday.SATURDAY, _("Saturday")),
    (Weekday.SUNDAY, _("Sunday")),
]
MONTHS = [
    *[(1, _("January")), (2, _("February")), (3, _("March")), (4, _("April")), (5, _("May")), (6, _("June"))],
    *[(7, _("July")), (8, _("August")), (9, _("September")), (10, _("October"))],
    *[(11, _("November")), (12, _("December"))],
]
HOURS = {"opens": _("From"), "closes": _("Until")}
CLOSES = _("00:00 means midnight at the end of the day.")
DUTIES = {
    "may_light": _("Somebody lights gas"),
    "may_load": _("Somebody loads kilns"),
    "may_unload": _("Somebody unloads"),
    "may_charge": _("Somebody charges the furnace"),
}


class LineForm(SetUpForm):
    """One line, or several alike that are added in one go."""

    def lines(self) -> Sequence[Any]:
        """What is to be written."""
        return [self.instance]


class ManyDays(LineForm):
    """The same hours on several weekdays; once they stand, each is changed by itself."""

    weekdays = forms.TypedMultipleChoiceField(
        choices=WEEKDAYS,
        coerce=int,
        widget=forms.CheckboxSelectMultiple,
        label=_("On"),
        initial=[0, 1, 2, 3, 4],
    )
    weekday = forms.TypedChoiceField(choices=WEEKDAYS, coerce=int, label=_("On"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        stands = self.instance.pk is not None
        del self.fields["weekdays" if stands else "weekday"]
        if not stands:
            self.fields["weekdays"].error_messages["required"] = _("Choose the days of the week.")
        self.order_fields(["weekday" if stands else "weekdays"])

    def lines(self) -> Sequence[Any]:
        days = self.cleaned_data.get("weekdays")
        return [self._on(day) for day in days] if days else [self.instance]

    def _on(self, day: int) -> Any:
        facts = {name: self.cleaned_data[name] for name in self._meta.fields or () if name != "weekday"}
        return type(self.instance)(studio=self.studio, weekday=day, **facts)


class StaffedForm(ManyDays):
    """When somebody is there, and for what."""

    class Meta:
        model = StaffedHours
        fields = ["weekday", "opens", "closes", *DUTIES]
        labels = HOURS | DUTIES
        help_texts = {"closes": CLOSES}

    parts = (Part(title=_("What can be done then"), names=list(DUTIES)),)


class BenchForm(ManyDays):
    """When a torch may be reserved without a class."""

    class Meta:
        model = BenchHours
        fields = ["weekday", "opens", "closes"]
        labels = HOURS
        help_texts = {"closes": CLOSES}


class ClosureForm(LineForm):
    """Whole days on which nobody is there."""

    class Meta:
        model = Closure
        fields = ["first_day", "last_day", "reason"]
        labels = {"first_day": _("First day"), "last_day": _("Last day"), "reason": _("Why")}
        help_texts = {"reason": _("It stands on the sheet.")}


class TermForm(LineForm):
    """A stretch of the year; what is asked once a term is asked anew in the next."""

    class Meta:
        model = Term
        fields = ["name", "first_day", "last_day"]
        labels = {"name": _("Name"), "first_day": _("First day"), "last_day": _("Last day")}


class SeasonForm(LineForm):
    """From a day of every year on the rooms are warmer, or colder."""

    month = forms.TypedChoiceField(choices=MONTHS, coerce=int, label=_("Begins in"))
    measures = {"warmer_k": "difference"}
    signed = ("warmer_k",)

    class Meta:
        model = Season
        fields = ["name", "month", "day", "warmer_k"]
        labels = {"name": _("Name"), "day": _("On day"), "warmer_k": _("Warmer by")}
        help_texts = {"warmer_k": _("Than the records say; colder: with a minus.")}


class ProcessForm(LineForm):
    """A studio's own temperatures for a program."""

    recipe = forms.TypedChoiceField(
        choices=[row for row in RECIPES if row[0] in set(PROCESSES)], label=_("Program")
    )
    measures = {"process_c": "degrees", "squeeze_c": "degrees"}

    class Meta:
        model = OwnProcess
        fields = ["recipe", "process_c", "hold_min", "squeeze_c", "squeeze_min"]
        labels = {
            "process_c": _("Process temperature"),
            "hold_min": _("Held for (minutes)"),
            "squeeze_c": _("Bubble squeeze at"),
            "squeeze_min": _("Squeeze held for (minutes)"),
        }
        help_texts = {"squeeze_c": _("Empty: none.")}

    def clean(self) -> dict[str, Any]:
        """One line for each program of a studio."""
        given = super().clean()
        rows = OwnProcess.objects.filter(studio=self.studio, recipe=given.get("recipe", ""))
        if rows.exclude(pk=self.instance.pk).exists():
            self.add_error("recipe", ValidationError(_("This program has a line already: change that one.")))
        return given


class MouldForm(LineForm):
    """Moulds of one form that the studio has."""

    measures = {"length_mm": "length", "width_mm": "length"}

    class Meta:
        model = Mould
        fields = ["name", "count", "holds", "round", "length_mm", "width_mm"]
        labels = {
            "name": _("Name"),
            "count": _("How many there are"),
            "holds": _("Pieces in each"),
            "round": _("Round"),
            "length_mm": _("Length on the shelf"),
            "width_mm": _("Width on the shelf"),
        }
        help_texts = {
            "name": _("As people call it; each name once in a studio."),
            "round": _("Its length is its diameter."),
            "width_mm": _("Empty, where it is round: its diameter."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["width_mm"].required = False

    def clean(self) -> dict[str, Any]:
        """A round mould has no width of its own."""
        given = super().clean()
        if given.get("round") and given.get("width_mm") is None and "width_mm" not in self.errors:
            given["width_mm"] = given.get("length_mm")
        elif given.get("width_mm") is None and "width_mm" not in self.errors:
            self.add_error("width_mm", ValidationError(_("Fill this in.")))
        return given
