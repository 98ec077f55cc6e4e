"""What if: one kiln down, so many pieces more, thicker glass; and which of the three aims counts."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from scheduling.models import KilnJob
from scheduling.services.kiln_jobs import MOST_PIECES
from scheduling.web.kiln_words import AIMS
from scheduling.web.setup_forms.base import SetUpQuestion
from studios.models import Equipment, EquipmentKind, Studio


class KilnsField(forms.ModelMultipleChoiceField):
    """Kilns, each with where it stands."""

    def label_from_instance(self, kiln: Equipment) -> str:
        """Its name and its studio."""
        return f"{kiln.name}, {kiln.studio.name}"


class WhatIfForm(SetUpQuestion):
    """What is to be otherwise than in the job; what is left empty stays."""

    measures = {"thickness_mm": "length"}

    without_kilns = KilnsField(
        queryset=Equipment.objects.none(),
        to_field_name="uid",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label=_("Without these kilns"),
    )
    more_pieces = forms.IntegerField(
        required=False,
        label=_("So many pieces more"),
        help_text=_("Of the same sizes, in turn."),
        validators=[MinValueValidator(1), MaxValueValidator(MOST_PIECES)],
    )
    thickness_mm = forms.FloatField(
        required=False,
        label=_("Thickness"),
        validators=[MinValueValidator(0.1), MaxValueValidator(300)],
    )
    aim = forms.ChoiceField(
        required=False, choices=[("", _("as in the job")), *AIMS.items()], label=_("What counts most")
    )

    def __init__(self, *args: Any, studio: Studio, job: KilnJob, **kwargs: Any) -> None:
        super().__init__(*args, studio=studio, prefix="if", **kwargs)
        field, kilns = self.fields["without_kilns"], kilns_of(job)
        if kilns.count() < 2:  # without the only kiln nothing is fired
            del self.fields["without_kilns"]
        elif isinstance(field, forms.ModelChoiceField):
            field.queryset = kilns

    def clean(self) -> dict[str, Any]:
        """At least one thing is otherwise."""
        given = super().clean() or {}
        if not self.errors and not any(given.get(name) for name in self.fields):
            self.add_error(None, _("Say what is to be otherwise."))
        return given

    def what_if(self) -> dict[str, Any]:
        """What the service takes."""
        given = self.cleaned_data
        kilns = [str(kiln.uid) for kiln in given.get("without_kilns") or ()]
        wanted = {**{name: given[name] for name in ("more_pieces", "thickness_mm", "aim")}}
        return {name: value for name, value in {"without_kilns": kilns, **wanted}.items() if value}


def kilns_of(job: KilnJob) -> QuerySet[Equipment]:
    """The kilns of its studios that have shelves."""
    rows = Equipment.objects.filter(
        studio__in=job.studios.all(),
        kind=EquipmentKind.KILN,
        active=True,
        shelf_length_mm__isnull=False,
    )
    return rows.select_related("studio").order_by("studio__name", "number", "name")
