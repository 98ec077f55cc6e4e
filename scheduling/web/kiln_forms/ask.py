"""What a kiln job is asked for with: glass, thickness, route, from when until when, and where."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import QuerySet
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from scheduling.engine.clock import moment, wall_minutes
from scheduling.models import KilnAim, KilnJob
from scheduling.services.kiln_jobs import LONGEST_NOTE, LONGEST_TITLE, MOST_COLD_MIN
from scheduling.web.forms import asked_for, day_field, known_day, time_field, today_at
from scheduling.web.kiln_words import AIMS, ROUTES
from scheduling.web.setup_forms.base import SetUpQuestion
from studios.errors import LehrbookError
from studios.models import GlassType, Studio

# Where a service's refusal of a field stands on the page.
BESIDE: Mapping[str, str] = {"due_at": "due_day", "arrives_at": "arrives_day", "starts_at": "arrives_day"}
OF_SIZES = frozenset({"sizes", "makers", "mould", "pieces"})
MORNING = dt.time(10)


class AskForm(SetUpQuestion):
    """All of a kiln job but its sizes. Days and times are by the clock of the first studio chosen."""

    measures = {"thickness_mm": "length"}

    title = forms.CharField(
        max_length=LONGEST_TITLE,
        label=_("What it is called"),
        help_text=_("It stands on the sheet, on labels and on lists."),
    )
    glass = forms.ModelChoiceField(
        queryset=GlassType.objects.none(),
        to_field_name="slug",
        label=_("Glass"),
        empty_label=_("Choose a glass"),
    )
    thickness_mm = forms.FloatField(
        label=_("Greatest thickness"),
        validators=[MinValueValidator(0.1), MaxValueValidator(300)],
    )
    mixed_with = forms.ModelMultipleChoiceField(
        queryset=GlassType.objects.none(),
        to_field_name="slug",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=_("Other glasses in the same pieces"),
        help_text=_("Glasses whose expansions differ are never fused in one piece."),
    )
    route = forms.ChoiceField(choices=list(ROUTES.items()), label=_("What is wanted"))
    cold_min_each = forms.IntegerField(
        label=_("Cold work for each piece (minutes)"),
        required=False,
        initial=0,
        validators=[MinValueValidator(0), MaxValueValidator(MOST_COLD_MIN)],
        help_text=_("At the cold station; left out: none."),
    )
    arrives_day = day_field(_("At the studio from"), _("Choose the day on which they arrive."))
    arrives_time = time_field(_("at"), _("Choose a time."))
    due_day = forms.DateField(
        required=False,
        label=_("Ready by"),
        help_text=_("Left out: as early as can be."),
        validators=[known_day],
        error_messages=asked_for(_("Choose a day, or none.")),
    )
    due_time = time_field(
        _("at"), _("Choose a time, or none."), _("Left out: by the end of that day."), required=False
    )
    studios = forms.ModelMultipleChoiceField(
        queryset=Studio.objects.none(),
        to_field_name="slug",
        widget=forms.CheckboxSelectMultiple,
        label=_("Where it may be fired"),
    )
    aim = forms.ChoiceField(choices=list(AIMS.items()), label=_("What counts most"))
    shares_space = forms.BooleanField(
        required=False,
        label=_("Others may add pieces where a shelf has room"),
        help_text=_("Until loading begins; glass, program and thickness have to fit."),
    )
    note = forms.CharField(max_length=LONGEST_NOTE, required=False, label=_("Note"))

    def __init__(
        self,
        *args: Any,
        studios: QuerySet[Studio],
        glasses: QuerySet[GlassType],
        job: KilnJob | None = None,
        **kwargs: Any,
    ) -> None:
        studio = studios[0]
        kwargs["initial"] = _of_job(job, studio) if job is not None else _usual(studios)
        super().__init__(*args, studio=studio, **kwargs)
        self._offer("glass", glasses)
        self._offer("mixed_with", glasses)
        self._offer("studios", studios)
        self.size_errors: list[str] = []
        missing = {
            "title": _("Give it a title."),
            "glass": _("Choose a glass."),
            "studios": _("Choose at least one studio."),
            "mixed_with": _("Choose other glasses, or none."),
            "route": _("Choose what is wanted."),
            "aim": _("Choose what counts most."),
        }
        self.fields["thickness_mm"].error_messages["required"] = _("Say how thick the pieces are.")
        for name, sentence in missing.items():
            self.fields[name].error_messages |= asked_for(sentence)

    @classmethod
    def unchecked(cls, data: QueryDict, **facts: Any) -> AskForm:
        """What was typed so far, before anything of it is looked at."""
        form = cls(None, **facts)
        many = (forms.ModelMultipleChoiceField,)
        form.initial = {
            name: data.getlist(name) if isinstance(field, many) else data.get(name, "")
            for name, field in form.fields.items()
        }
        return form

    def _offer(self, name: str, rows: QuerySet[Any]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ModelChoiceField):
            field.queryset = rows

    def asked(self) -> dict[str, Any] | None:
        """What the service takes; None: an error stands beside."""
        given = dict(self.cleaned_data)
        zone = given["studios"][0].zone
        arrives = self._moment("arrives", zone, given.pop("arrives_day"), given.pop("arrives_time"))
        due_day, due_time = given.pop("due_day"), given.pop("due_time")
        due = self._moment("due", zone, due_day, due_time or dt.time(23, 59)) if due_day else None
        if self.errors:
            return None
        given["cold_min_each"] = given["cold_min_each"] or 0
        return given | {"arrives_at": arrives, "due_at": due}

    def _moment(self, name: str, zone: Any, day: dt.date, time: dt.time) -> dt.datetime | None:
        try:
            return moment(wall_minutes(day, time, zone))
        except LehrbookError as error:
            self.add_error(f"{name}_time", str(error))
            return None

    def refuse(self, error: LehrbookError) -> None:
        """A refusal stands beside its field, or beside the sizes; what was typed stays."""
        if error.field in OF_SIZES:
            self.size_errors.append(str(error))
            return
        name = BESIDE.get(error.field or "", error.field)
        self.add_error(name if name in self.fields else None, str(error))

    @property
    def wrong(self) -> bool:
        return bool(self.errors or self.size_errors)


def _usual(studios: Sequence[Studio] | QuerySet[Studio]) -> dict[str, Any]:
    """It comes tomorrow morning, and any of the studios may fire it."""
    return {
        "arrives_day": today_at(studios[0]) + dt.timedelta(days=1),
        "arrives_time": MORNING,
        "studios": [studio.slug for studio in studios],
        "aim": KilnAim.EARLIEST,
        "cold_min_each": 0,
    }


def _of_job(job: KilnJob, studio: Studio) -> dict[str, Any]:
    """As it was asked for."""
    first = job.studios.first() or studio
    arrives = job.arrives_at.astimezone(first.zone)
    due = job.due_at.astimezone(first.zone) if job.due_at else None
    names = ("title", "thickness_mm", "route", "cold_min_each", "aim", "shares_space", "note")
    return {name: getattr(job, name) for name in names} | {
        "glass": job.glass.slug,
        "mixed_with": [glass.slug for glass in job.mixed_with.all()],
        "arrives_day": arrives.date(),
        "arrives_time": arrives.time(),
        "due_day": due.date() if due else None,
        "due_time": due.time() if due else None,
        "studios": [each.slug for each in job.studios.all()],
    }
